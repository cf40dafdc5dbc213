//! The reference that a fleet gives: for one model, procedure and quantity, where the reading of the
//! next healthy unit lies.

use serde::{Deserialize, Serialize};

use super::distribution_free::{order_statistic_interval, sample_size};
use super::normality::{Normality, anderson_darling};
use super::screening::{RobustCentre, robust_centre};
use super::selection::{Evidence, KnownGood, LeftOut, known_good, one_per_unit};
use super::tolerance::{Aim, Limits, tolerance_interval};
use super::variance_components::components_interval;
use super::{KnownGoodError, from_scale};
use crate::id::{ApplianceId, TestRunId};
use crate::quantity::Scale;
use crate::time::Timestamp;

/// Under so many units there is no fleet reference; the next one (the model's typical value, the
/// functional limit) is used.
pub const LEAST_UNITS: u32 = 10;

/// How a reference is to be learned, fixed before the readings are seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    pub method: Method,
    /// Logarithmic for times and resistances.
    pub scale: Scale,
    pub aim: Aim,
    pub as_of: Timestamp,
    /// The knowledge version that this reference becomes part of.
    pub version: u32,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Exact interval of a normal population (on the scale), one reading per unit.
    Normal,
    /// Between order statistics, one reading per unit; needs hundreds of units.
    DistributionFree,
    /// All readings of each unit, by variance components.
    VarianceComponents,
}

/// What was learned, or why nothing was; with everything that a reader needs to judge it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FleetReference {
    pub plan: Plan,
    pub units: u32,
    /// Readings used; more than the units only with variance components.
    pub readings: u32,
    pub interval: Option<Interval>,
    /// Set if there is no interval.
    pub none_because: Option<NoInterval>,
    /// Far from the rest, and in the interval all the same until a person removes it.
    pub flagged: Vec<Flagged>,
    /// Where the interval would lie without the flagged readings; set only if some are flagged.
    pub without_flagged: Option<WithoutFlagged>,
    /// None where the test does not apply: several readings per unit, or too few.
    pub normality: Option<Normality>,
    pub left_out: LeftOut,
}

/// An interval in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    pub limits: Limits,
    /// The middle of the fleet: mean, geometric mean or median, by scale and method.
    pub centre: f64,
    /// Standard deviation on the scale; none for a distribution-free interval.
    pub standard_deviation: Option<f64>,
    /// k, the limits' distance from the centre in standard deviations.
    pub factor: Option<f64>,
    /// The confidence reached; above the one aimed at only for a distribution-free interval.
    pub confidence: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoInterval {
    TooFewUnits {
        needed: u32,
    },
    /// All readings are equal: the instrument is too coarse to show a spread.
    NoSpread,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Flagged {
    pub appliance: ApplianceId,
    pub test_run: TestRunId,
    pub value: f64,
    /// Robust standard score on the scale.
    pub score: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct WithoutFlagged {
    pub units: u32,
    pub readings: u32,
    /// None if too few are left.
    pub interval: Option<Interval>,
}

/// Learns the reference of one model, procedure and quantity from all its evidence, in any order.
pub fn learn(evidence: &[Evidence], plan: Plan) -> FleetReference {
    let (mut readings, mut left_out) = known_good(evidence, plan.scale, plan.as_of);
    if plan.method != Method::VarianceComponents {
        readings = one_per_unit(readings, &mut left_out);
    }
    learn_selected(&readings, left_out, plan)
}

/// [`learn`] from readings that were selected before: by unit and then by time, and one per unit unless
/// the plan is variance components. For fleets too large to hold all their evidence at once.
pub fn learn_selected(readings: &[KnownGood], left_out: LeftOut, plan: Plan) -> FleetReference {
    let values: Vec<f64> = readings.iter().map(|reading| on_scale(reading.value, plan.scale)).collect();
    let units = count_units(readings);
    let found = interval(readings, &values, plan);
    let flagged = flag(readings, &values);
    let without_flagged = (!flagged.is_empty()).then(|| without(readings, &flagged, plan));
    let one_each = units as usize == readings.len();
    FleetReference {
        plan,
        units,
        readings: readings.len() as u32,
        interval: found.ok(),
        none_because: found.err(),
        flagged,
        without_flagged,
        normality: if one_each { anderson_darling(&values).ok() } else { None },
        left_out,
    }
}

fn interval(readings: &[KnownGood], values: &[f64], plan: Plan) -> Result<Interval, NoInterval> {
    let units = count_units(readings);
    let needed = match plan.method {
        Method::DistributionFree => sample_size(plan.aim).max(LEAST_UNITS),
        Method::Normal | Method::VarianceComponents => LEAST_UNITS,
    };
    if units < needed {
        return Err(NoInterval::TooFewUnits { needed });
    }
    let scale = plan.scale;
    let confidence = plan.aim.confidence();
    let computed: Result<Interval, KnownGoodError> = match plan.method {
        Method::Normal => tolerance_interval(values, plan.aim).map(|found| Interval {
            limits: found.limits.map(|limit| from_scale(limit, scale)),
            centre: from_scale(found.mean, scale),
            standard_deviation: Some(found.standard_deviation),
            factor: Some(found.factor),
            confidence,
        }),
        Method::VarianceComponents => {
            components_interval(&by_unit(readings, values), plan.aim).map(|found| Interval {
                limits: found.limits.map(|limit| from_scale(limit, scale)),
                centre: from_scale(found.mean, scale),
                standard_deviation: Some(found.standard_deviation),
                factor: Some(found.factor),
                confidence,
            })
        }
        // Order statistics are the same readings on every scale: taken as read, they are not rounded.
        Method::DistributionFree => {
            let as_read: Vec<f64> = readings.iter().map(|reading| reading.value).collect();
            order_statistic_interval(&as_read, plan.aim).and_then(|found| {
                let centre = robust_centre(&as_read)?.median;
                let (limits, confidence) = (found.limits, found.confidence);
                Ok(Interval { limits, centre, standard_deviation: None, factor: None, confidence })
            })
        }
    };
    // Readings that count are finite and enough, so that a missing spread is all that can be wrong.
    computed.map_err(|_| NoInterval::NoSpread)
}

fn flag(readings: &[KnownGood], values: &[f64]) -> Vec<Flagged> {
    let Ok(centre) = robust_centre(values) else { return Vec::new() };
    let score = |value: f64| RobustCentre::score(centre, value);
    readings
        .iter()
        .zip(values)
        .filter(|(_, value)| centre.flags(**value))
        .filter_map(|(reading, value)| {
            Some(Flagged {
                appliance: reading.appliance,
                test_run: reading.test_run,
                value: reading.value,
                score: score(*value)?,
            })
        })
        .collect()
}

fn without(readings: &[KnownGood], flagged: &[Flagged], plan: Plan) -> WithoutFlagged {
    let is_flagged = |reading: &KnownGood| flagged.iter().any(|flagged| flagged.test_run == reading.test_run);
    let kept: Vec<KnownGood> = readings.iter().filter(|reading| !is_flagged(reading)).copied().collect();
    let values: Vec<f64> = kept.iter().map(|reading| on_scale(reading.value, plan.scale)).collect();
    WithoutFlagged {
        units: count_units(&kept),
        readings: kept.len() as u32,
        interval: interval(&kept, &values, plan).ok(),
    }
}

fn on_scale(value: f64, scale: Scale) -> f64 {
    match scale {
        Scale::Logarithmic => value.ln(),
        Scale::Linear => value,
    }
}

/// Readings come ordered by unit.
fn count_units(readings: &[KnownGood]) -> u32 {
    readings.chunk_by(|a, b| a.appliance == b.appliance).count() as u32
}

fn by_unit(readings: &[KnownGood], values: &[f64]) -> Vec<Vec<f64>> {
    let mut rest = values;
    readings
        .chunk_by(|a, b| a.appliance == b.appliance)
        .map(|unit| {
            let (of_unit, others) = rest.split_at(unit.len());
            rest = others;
            of_unit.to_vec()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::selection::{NotCounted, Outcome};
    use super::super::tolerance::Sides;
    use super::*;
    use crate::probability::normal_quantile;
    use chrono::TimeDelta;
    use proptest::prelude::*;

    fn id<T: std::str::FromStr<Err: std::fmt::Debug>>(number: u32) -> T {
        format!("01890a5d-ac96-774b-bcce-b3020000{number:04x}").parse().unwrap()
    }

    fn evidence(number: u32, appliance: u32, value: f64) -> Evidence {
        let start: Timestamp = "2026-01-01T00:00:00Z".parse().unwrap();
        Evidence {
            appliance: id(appliance),
            test_run: id(number),
            taken_at: Timestamp::new(start.instant() + TimeDelta::minutes(number.into())).unwrap(),
            value: Some(value),
            other_tests: Outcome::Passed,
            full_cycle: Outcome::Passed,
            next_corrective_call_at: None,
            observed_until: None,
            removed_because: None,
        }
    }

    /// n units whose fill times have logarithms at normal quantiles around ln 12.7 s, spread 0.08.
    fn fleet(n: u32) -> Vec<Evidence> {
        (0..n)
            .map(|i| {
                let z = normal_quantile((f64::from(i) + 0.5) / f64::from(n));
                evidence(i, i, (12.7_f64.ln() + 0.08 * z).exp())
            })
            .collect()
    }

    fn plan(method: Method) -> Plan {
        Plan {
            method,
            scale: Scale::Logarithmic,
            aim: Aim::usual(Sides::Upper),
            as_of: "2026-06-01T00:00:00Z".parse().unwrap(),
            version: 7,
        }
    }

    #[test]
    fn a_fleet_of_fill_times_gives_an_interval_in_seconds() {
        let learned = learn(&fleet(40), plan(Method::Normal));
        let interval = learned.interval.unwrap();
        assert_eq!((learned.units, learned.readings, learned.none_because), (40, 40, None));
        assert!((interval.centre - 12.7).abs() < 1e-9 && interval.limits.lower.is_none());
        let deviation = interval.standard_deviation.unwrap();
        assert!((deviation - 0.08).abs() < 0.003);
        let upper = 12.7 * (interval.factor.unwrap() * deviation).exp();
        assert!((interval.limits.upper.unwrap() - upper).abs() < 1e-9);
        assert!(!learned.normality.unwrap().warning && learned.flagged.is_empty());
        let json = serde_json::to_string(&learned).unwrap();
        assert_eq!(serde_json::from_str::<FleetReference>(&json).unwrap(), learned);
    }

    #[test]
    fn nine_units_give_none_and_ten_do() {
        let nine = learn(&fleet(9), plan(Method::Normal));
        assert_eq!((nine.interval, nine.none_because), (None, Some(NoInterval::TooFewUnits { needed: 10 })));
        assert!(learn(&fleet(10), plan(Method::Normal)).interval.is_some());
        let free = learn(&fleet(298), plan(Method::DistributionFree));
        assert_eq!(free.none_because, Some(NoInterval::TooFewUnits { needed: 299 }));
        let free = learn(&fleet(299), plan(Method::DistributionFree)).interval.unwrap();
        assert_eq!(free.limits.upper, fleet(299)[298].value);
    }

    #[test]
    fn a_reading_far_out_is_flagged_and_stays_until_a_person_removes_it() {
        let mut readings = fleet(30);
        readings[3].value = Some(60.0);
        let flagged = learn(&readings, plan(Method::Normal));
        assert_eq!(flagged.flagged.iter().map(|f| f.test_run).collect::<Vec<_>>(), [id(3)]);
        assert_eq!((flagged.units, flagged.without_flagged.unwrap().units), (30, 29));
        assert!(flagged.normality.unwrap().warning);
        readings[3].removed_because = Some(super::super::selection::RemovalReason::ReadWrongly);
        let removed = learn(&readings, plan(Method::Normal));
        assert_eq!(removed.left_out[&NotCounted::RemovedByPerson], 1);
        assert_eq!(removed.interval, flagged.without_flagged.unwrap().interval);
    }

    #[test]
    fn several_readings_of_a_unit_count_once_unless_by_components() {
        let mut readings = fleet(12);
        for i in 0..12 {
            let again = readings[i as usize].value.unwrap() * [1.01, 0.99][i as usize % 2];
            readings.push(evidence(100 + i, i, again));
        }
        let normal = learn(&readings, plan(Method::Normal));
        assert_eq!(
            (normal.units, normal.readings, normal.left_out[&NotCounted::LaterReadingUsed]),
            (12, 12, 12)
        );
        let components = learn(&readings, plan(Method::VarianceComponents));
        assert_eq!((components.units, components.readings), (12, 24));
        assert!(components.interval.is_some() && components.left_out.is_empty());
    }

    #[test]
    fn equal_readings_give_no_interval() {
        let equal: Vec<_> = (0..20).map(|i| evidence(i, i, 12.0)).collect();
        assert_eq!(learn(&equal, plan(Method::Normal)).none_because, Some(NoInterval::NoSpread));
    }

    proptest! {
        #[test]
        fn no_order_of_arrival_changes_what_is_learned(seed in any::<u64>()) {
            let mut readings = fleet(25);
            readings.extend((0..10).map(|i| evidence(200 + i, i, 13.0)));
            let learned = learn(&readings, plan(Method::Normal));
            let length = readings.len();
            readings.rotate_left(seed as usize % length);
            readings.swap(seed as usize % 7, 20);
            prop_assert_eq!(learned, learn(&readings, plan(Method::Normal)));
        }
    }
}
