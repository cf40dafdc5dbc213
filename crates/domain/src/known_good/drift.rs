//! Whether one machine's readings drift away from their own past: an exponentially weighted moving
//! average, which sees a small lasting shift, and a two-sided cumulative sum beside it.
//!
//! The charts start by themselves: each reading is scored against the mean of those before it since
//! the last repair of the position, so that no fixed target is needed, and every score is standard
//! normal as long as nothing changes. A repair of the position starts them anew.
//!
//! Source: Hawkins, Self-starting CUSUM charts for location and scale, 1987; Quesenberry, 1991 (known
//! spread); Lucas and Saccucci, 1990 (limits of the average); NIST/SEMATECH e-Handbook 6.3.2.3 (sums).

use std::cmp::Ordering;

use serde::{Deserialize, Serialize};

use super::{KnownGoodError, to_scale};
use crate::id::TestRunId;
use crate::probability::student_to_normal;
use crate::quantity::Scale;
use crate::time::Timestamp;

/// The settings of both charts, in standard deviations of one score.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DriftRules {
    /// λ, the weight of the newest score, in (0, 1].
    pub weight: f64,
    /// L, half the width of the limits of the average, in its own standard deviations.
    pub width: f64,
    /// k of the sums: half the shift to be found.
    pub allowance: f64,
    /// h: a sum above it signals.
    pub decision: f64,
}

impl Default for DriftRules {
    /// λ 0.2 with L 3.9, and k 0.5 with h 8: without any change one signal in 12,900 and one in 9,500
    /// readings (Markov chains of Brook and Evans, 1972). A fleet runs tens of thousands of charts, and
    /// the limits usual for one (L 2.86, h 4.8: one signal in 370 each) would ring thousands of false
    /// alarms a year.
    fn default() -> Self {
        Self { weight: 0.2, width: 3.9, allowance: 0.5, decision: 8.0 }
    }
}

impl DriftRules {
    fn checked(self) -> Result<Self, KnownGoodError> {
        let fail = |name, allowed, actual| Err(KnownGoodError::Parameter { name, allowed, actual });
        let positive = |value: f64| value.is_finite() && value > 0.0;
        if !(positive(self.weight) && self.weight <= 1.0) {
            fail("weight", "above 0 and at most 1", self.weight)
        } else if !positive(self.width) {
            fail("width", "a finite number above zero", self.width)
        } else if !(self.allowance.is_finite() && self.allowance >= 0.0) {
            fail("allowance", "a finite number from zero", self.allowance)
        } else if !positive(self.decision) {
            fail("decision", "a finite number above zero", self.decision)
        } else {
            Ok(self)
        }
    }
}

/// What a reading's distance from the mean before it is measured in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Spread {
    /// Known: the spread within units, pooled over the model, on the scale. Scores from the second reading.
    Pooled(f64),
    /// Estimated from the same readings as they come. Scores from the third reading.
    Own,
}

/// One reading of the machine, corrected to reference conditions, in its unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DriftReading {
    pub test_run: TestRunId,
    pub taken_at: Timestamp,
    pub value: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DriftChart {
    pub points: Vec<DriftPoint>,
    pub rules: DriftRules,
    pub spread: Spread,
    pub scale: Scale,
    /// Readings since the last repair of the position.
    pub n: u32,
    /// The first signal since the last repair of the position.
    pub drifting_since: Option<Timestamp>,
}

/// One reading with both charts as they stood after it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DriftPoint {
    pub reading: DriftReading,
    /// Counted from 0; each repair of the position begins the next.
    pub segment: u32,
    /// None where the readings before it are too few, or all equal.
    pub score: Option<f64>,
    pub average: f64,
    /// The average signals beyond ± this.
    pub average_limit: f64,
    pub sum_high: f64,
    pub sum_low: f64,
    pub signals: Vec<Signal>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Signal {
    AverageHigh,
    AverageLow,
    SumHigh,
    SumLow,
}

/// Draws both charts over the readings of one machine and quantity, in any order of arrival. `repairs`
/// are the times of the actions that changed the position; a reading at or after one follows it.
///
/// Errors: a value that is not finite (or not above zero on the logarithmic scale), rules or a pooled
/// spread out of range. An empty list of readings gives an empty chart.
pub fn drift_chart(
    readings: &[DriftReading],
    repairs: &[Timestamp],
    scale: Scale,
    spread: Spread,
    rules: DriftRules,
) -> Result<DriftChart, KnownGoodError> {
    let rules = rules.checked()?;
    if let Spread::Pooled(actual) = spread
        && !(actual.is_finite() && actual > 0.0)
    {
        let (name, allowed) = ("the pooled spread", "a finite number above zero");
        return Err(KnownGoodError::Parameter { name, allowed, actual });
    }
    let mut readings = readings.to_vec();
    readings.sort_by_key(|reading| (reading.taken_at, reading.test_run));
    let values: Vec<f64> = readings.iter().map(|reading| reading.value).collect();
    let values = to_scale(&values, scale)?;
    let mut repairs = repairs.to_vec();
    repairs.sort_unstable();

    let mut segment = 0;
    let mut chart = Segment::new(rules);
    let mut since_repair = 0;
    let mut points: Vec<DriftPoint> = Vec::with_capacity(readings.len());
    for (reading, value) in readings.into_iter().zip(values) {
        let segment_of_reading = repairs.partition_point(|repair| *repair <= reading.taken_at) as u32;
        if segment_of_reading != segment {
            segment = segment_of_reading;
            chart = Segment::new(rules);
            since_repair = points.len();
        }
        points.push(chart.take(reading, value, spread, segment));
    }
    // A repair after the last reading leaves nothing of the chart that still holds.
    if segment as usize != repairs.len() {
        since_repair = points.len();
    }
    let current = &points[since_repair..];
    let n = current.len() as u32;
    let drifting_since =
        current.iter().find(|point| !point.signals.is_empty()).map(|point| point.reading.taken_at);
    Ok(DriftChart { points, rules, spread, scale, n, drifting_since })
}

/// The charts since one repair.
struct Segment {
    past: Past,
    average: MovingAverage,
    sums: CumulativeSums,
    /// A value far off, with its score, that no second one has agreed with yet.
    held: Option<(f64, f64)>,
    /// The side to which two values lay far off together: those that follow are no slips.
    agreed: Option<Ordering>,
}

/// A score beyond this may be a slip of the hand: it counts when the next value lies as far off on its side.
const MAY_BE_A_SLIP: f64 = 5.0;

/// On which side of the usual a score lies.
fn side(score: f64) -> Ordering {
    score.total_cmp(&0.0)
}

impl Segment {
    fn new(rules: DriftRules) -> Self {
        Self {
            past: Past::default(),
            average: MovingAverage::new(rules.weight, rules.width),
            sums: CumulativeSums::new(rules.allowance, rules.decision),
            held: None,
            agreed: None,
        }
    }

    /// One slip of the hand would drag the mean and ring both charts for years: it is kept out of them until
    /// a second value agrees.
    fn add(&mut self, value: f64, score: Option<f64>) {
        let far = score.filter(|score| score.abs() > MAY_BE_A_SLIP);
        let before = self.held.take();
        let mut counted = vec![(value, score)];
        if let Some(score) = far.filter(|score| self.agreed != Some(side(*score))) {
            if let Some((held, its_score)) = before.filter(|(_, held)| side(*held) == side(score)) {
                self.agreed = Some(side(score));
                counted.insert(0, (held, Some(its_score)));
            } else {
                self.held = Some((value, score));
                counted.clear();
            }
        }
        for (value, score) in counted {
            self.past.add(value);
            if let Some(score) = score {
                self.average.add(score);
                self.sums.add(score);
            }
        }
    }

    fn take(&mut self, reading: DriftReading, value: f64, spread: Spread, segment: u32) -> DriftPoint {
        let score = self.past.score(value, spread);
        self.add(value, score);
        let average_limit = self.average.limit();
        let signals = [
            (self.average.value > average_limit, Signal::AverageHigh),
            (self.average.value < -average_limit, Signal::AverageLow),
            (self.sums.high > self.sums.decision, Signal::SumHigh),
            (self.sums.low > self.sums.decision, Signal::SumLow),
        ];
        DriftPoint {
            reading,
            segment,
            score,
            average: self.average.value,
            average_limit,
            sum_high: self.sums.high,
            sum_low: self.sums.low,
            signals: signals.into_iter().filter_map(|(signals, which)| signals.then_some(which)).collect(),
        }
    }
}

/// Running mean and sum of squares of the readings so far (Welford's recurrence).
#[derive(Default)]
struct Past {
    n: u32,
    mean: f64,
    squares: f64,
}

impl Past {
    fn add(&mut self, value: f64) {
        self.n += 1;
        let from_mean = value - self.mean;
        self.mean += from_mean / f64::from(self.n);
        self.squares += from_mean * (value - self.mean);
    }

    /// A standard normal score of the next value as long as nothing changed.
    fn score(&self, value: f64, spread: Spread) -> Option<f64> {
        let before = f64::from(self.n);
        let standardise = |deviation: f64| (value - self.mean) / (deviation * (1.0 + 1.0 / before).sqrt());
        match spread {
            Spread::Pooled(deviation) => (self.n >= 1).then(|| standardise(deviation)),
            Spread::Own if self.n < 2 || self.squares <= 0.0 => None,
            Spread::Own => {
                let degrees = before - 1.0;
                Some(student_to_normal(degrees, standardise((self.squares / degrees).sqrt())))
            }
        }
    }
}

/// Exponentially weighted moving average of deviations from a target, with the exact, widening limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MovingAverage {
    pub value: f64,
    weight: f64,
    width: f64,
    n: u32,
}

impl MovingAverage {
    pub fn new(weight: f64, width: f64) -> Self {
        Self { value: 0.0, weight, width, n: 0 }
    }

    pub fn add(&mut self, deviation: f64) {
        self.value += self.weight * (deviation - self.value);
        self.n += 1;
    }

    /// L·sqrt(λ/(2 − λ)·(1 − (1 − λ)^2n)) for deviations of standard deviation 1.
    pub fn limit(&self) -> f64 {
        let start = 1.0 - (1.0 - self.weight).powf(2.0 * f64::from(self.n));
        self.width * (self.weight / (2.0 - self.weight) * start).sqrt()
    }
}

/// Tabular cumulative sums of deviations from a target, both ways.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CumulativeSums {
    pub high: f64,
    pub low: f64,
    allowance: f64,
    decision: f64,
}

impl CumulativeSums {
    pub fn new(allowance: f64, decision: f64) -> Self {
        Self { high: 0.0, low: 0.0, allowance, decision }
    }

    pub fn add(&mut self, deviation: f64) {
        self.high = (self.high + deviation - self.allowance).max(0.0);
        self.low = (self.low - deviation - self.allowance).max(0.0);
    }

    pub fn signals(&self) -> bool {
        self.high > self.decision || self.low > self.decision
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::TimeDelta;

    fn reading(number: u16, value: f64) -> DriftReading {
        let start: Timestamp = "2026-01-01T00:00:00Z".parse().unwrap();
        DriftReading {
            test_run: format!("01890a5d-ac96-774b-bcce-b3020000{number:04x}").parse().unwrap(),
            taken_at: Timestamp::new(start.instant() + TimeDelta::days(number.into())).unwrap(),
            value,
        }
    }

    /// Values that scatter evenly around 10 with a standard deviation near 0.1.
    fn steady(from: u16, n: u16) -> Vec<DriftReading> {
        (0..n)
            .map(|i| reading(from + i, 10.0 + [0.08, -0.12, 0.1, -0.05, 0.02, -0.03][i as usize % 6]))
            .collect()
    }

    fn chart(readings: &[DriftReading], repairs: &[Timestamp], spread: Spread) -> DriftChart {
        drift_chart(readings, repairs, Scale::Linear, spread, DriftRules::default()).unwrap()
    }

    #[test]
    fn steady_readings_do_not_signal_and_a_shift_does() {
        for spread in [Spread::Own, Spread::Pooled(0.08)] {
            let mut readings = steady(0, 30);
            assert_eq!(chart(&readings, &[], spread).drifting_since, None, "{spread:?}");
            readings.extend(steady(30, 12).into_iter().map(|r| DriftReading { value: r.value + 0.25, ..r }));
            let drifting = chart(&readings, &[], spread);
            let since = drifting.drifting_since.expect("a shift of three standard deviations");
            assert!(since > readings[30].taken_at && since <= readings[36].taken_at, "{since}");
            assert!(drifting.points.iter().all(|p| !p.signals.contains(&Signal::SumLow)));
        }
    }

    #[test]
    fn one_slip_of_the_hand_rings_nothing_and_a_second_value_does() {
        for spread in [Spread::Own, Spread::Pooled(0.08)] {
            let mut readings = steady(0, 40);
            readings[20].value *= 10.0;
            let slipped = chart(&readings, &[], spread);
            assert_eq!(slipped.drifting_since, None, "{spread:?}");
            let sound = chart(&steady(0, 40), &[], spread);
            let apart = slipped.points[39].average - sound.points[39].average;
            assert!(apart.abs() < 0.3, "{spread:?} {apart}");
            readings[21].value *= 10.0;
            let since = chart(&readings, &[], spread).drifting_since;
            assert_eq!(since, Some(readings[21].taken_at), "{spread:?}");
        }
    }

    #[test]
    fn a_repair_starts_the_charts_anew() {
        let mut readings = steady(0, 20);
        readings.extend(steady(20, 10).into_iter().map(|r| DriftReading { value: r.value + 0.5, ..r }));
        let repaired = readings[20].taken_at;
        let after = chart(&readings, &[repaired], Spread::Own);
        assert_eq!((after.n, after.drifting_since), (10, None));
        assert_eq!(
            (after.points[19].segment, after.points[20].segment, after.points[20].score),
            (0, 1, None)
        );
        let unread = chart(&readings, &[readings[29].taken_at, reading(40, 0.0).taken_at], Spread::Own);
        assert_eq!(unread.n, 0, "nothing was read since the last repair");
    }

    #[test]
    fn order_of_arrival_does_not_matter() {
        let readings = steady(0, 25);
        let mut shuffled = readings.clone();
        shuffled.reverse();
        shuffled.swap(3, 17);
        assert_eq!(chart(&readings, &[], Spread::Own), chart(&shuffled, &[], Spread::Own));
    }

    #[test]
    fn scores_start_when_they_can() {
        let readings = steady(0, 4);
        let scored =
            |spread| chart(&readings, &[], spread).points.iter().filter(|p| p.score.is_some()).count();
        assert_eq!((scored(Spread::Own), scored(Spread::Pooled(0.1))), (2, 3));
        let equal: Vec<_> = (0..5).map(|i| reading(i, 3.0)).collect();
        assert!(chart(&equal, &[], Spread::Own).points.iter().all(|p| p.score.is_none() && p.average == 0.0));
        // (10.1 − 9.98) / (s sqrt(3/2)), s = 0.2/sqrt 2, one degree of freedom: F(t) = 1/2 + atan(t)/π.
        let third = chart(&readings, &[], Spread::Own).points[2].score.unwrap();
        let t = 0.12 / (0.2 / 2.0_f64.sqrt() * 1.5_f64.sqrt());
        let expected = crate::probability::normal_quantile(0.5 + t.atan() / std::f64::consts::PI);
        assert!((third - expected).abs() < 1e-9, "{third}, expected {expected}");
    }

    #[test]
    fn bad_input_is_an_error() {
        let one = [reading(0, f64::NAN)];
        assert!(drift_chart(&one, &[], Scale::Linear, Spread::Own, DriftRules::default()).is_err());
        let zero = [reading(0, 0.0)];
        assert!(drift_chart(&zero, &[], Scale::Logarithmic, Spread::Own, DriftRules::default()).is_err());
        assert!(drift_chart(&[], &[], Scale::Linear, Spread::Pooled(0.0), DriftRules::default()).is_err());
        for rules in [
            DriftRules { weight: 1.5, ..DriftRules::default() },
            DriftRules { width: f64::NAN, ..DriftRules::default() },
            DriftRules { allowance: -1.0, ..DriftRules::default() },
            DriftRules { decision: 0.0, ..DriftRules::default() },
        ] {
            assert!(drift_chart(&[], &[], Scale::Linear, Spread::Own, rules).is_err(), "{rules:?}");
        }
    }
}
