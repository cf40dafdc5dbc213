//! The share of repairs that come back within a time at risk, and how many would come back by chance.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::rate::garwood;
use super::{RepeatsError, check_confidence};
use crate::id::{ApplianceId, WorkOrderId};
use crate::probability::normal_quantile;
use crate::repeats::counting::{Confirmation, Found, Occasion};
use crate::text::Key;
use crate::time::Timestamp;
use crate::vocabulary::Position;

/// What counts as the same failure come back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sameness {
    /// Same position and failure mode.
    Fault,
    Position,
    Appliance,
}

/// A verified restoration and what became of it. The failure that it mended never counts against it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Index {
    pub work_order: WorkOrderId,
    pub appliance: ApplianceId,
    pub restored_at: Timestamp,
    /// Days at risk since the restoration, above zero.
    pub days: f64,
    pub end: End,
}

/// How a time at risk ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    Repeat,
    /// The machine was removed or swapped: it can no longer come back.
    Removed,
    /// It was watched so far and had not come back.
    Censored,
}

/// When a machine went out of sight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Departure {
    pub at: Timestamp,
    /// Removed or swapped; else the contract ended and nothing more is known.
    pub removed: bool,
}

/// The restorations of confirmed faults as indices, each at risk until it comes back, its machine
/// departs, or `complete_until`, the end of the last complete day.
///
/// A return without a confirmed fault is no repeat here; count those by [`super::counting`]. Of several
/// orders restored for one and the same failure the last is the index. An index without time at risk is left out.
pub fn indices(
    confirmations: &[Confirmation],
    departures: &BTreeMap<ApplianceId, Departure>,
    sameness: Sameness,
    complete_until: Timestamp,
) -> Vec<Index> {
    type Group = (ApplianceId, Option<Position>, Option<Key>);
    let mut groups: BTreeMap<Group, Vec<&Confirmation>> = BTreeMap::new();
    for confirmation in confirmations {
        let Found::Fault { position, failure_mode } = &confirmation.found else { continue };
        let known = confirmation.occasion == Occasion::Corrective
            && confirmation.reported_at <= complete_until
            && confirmation.confirmed_at <= complete_until;
        if known {
            let group = match sameness {
                Sameness::Fault => (Some(*position), Some(failure_mode.clone())),
                Sameness::Position => (Some(*position), None),
                Sameness::Appliance => (None, None),
            };
            groups.entry((confirmation.appliance, group.0, group.1)).or_default().push(confirmation);
        }
    }
    groups.into_values().flat_map(|group| of_group(&group, departures, complete_until)).collect()
}

fn of_group(
    group: &[&Confirmation],
    departures: &BTreeMap<ApplianceId, Departure>,
    complete_until: Timestamp,
) -> Vec<Index> {
    let mut restored: Vec<(Timestamp, WorkOrderId)> = group
        .iter()
        .filter_map(|confirmation| Some((confirmation.restored_at?, confirmation)))
        .filter(|(at, confirmation)| *at <= complete_until && *at >= confirmation.reported_at)
        .map(|(at, confirmation)| (at, confirmation.work_order))
        .collect();
    restored.sort_unstable();
    restored.dedup();
    let next_report = |after: Timestamp, own: WorkOrderId| {
        group
            .iter()
            .filter(|other| other.reported_at >= after && other.work_order != own)
            .map(|other| other.reported_at)
            .min()
    };
    let mut indices: Vec<Index> = Vec::new();
    for (place, &(restored_at, work_order)) in restored.iter().enumerate() {
        let appliance = group[0].appliance;
        let next = next_report(restored_at, work_order);
        let again = restored.get(place + 1).is_some_and(|(at, _)| next.is_none_or(|next| *at <= next));
        if again {
            continue;
        }
        let departure = departures.get(&appliance);
        let until = departure.map_or(complete_until, |departure| departure.at.min(complete_until));
        let (ended_at, end) = match next {
            Some(next) if next <= until => (next, End::Repeat),
            _ if departure.is_some_and(|departure| departure.removed && departure.at <= until) => {
                (until, End::Removed)
            }
            _ => (until, End::Censored),
        };
        let days = (ended_at.instant() - restored_at.instant()).num_milliseconds() as f64 / 86_400_000.0;
        if days > 0.0 {
            indices.push(Index { work_order, appliance, restored_at, days, end });
        }
    }
    indices
}

/// The share repeated within D days of the verified restoration.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RepeatedShare {
    pub days: f64,
    pub share: f64,
    /// None where no repeat was seen, or all at risk repeated: the estimate then has no spread.
    pub lower: Option<f64>,
    pub upper: Option<f64>,
    pub confidence: f64,
    pub n: u32,
    pub repeats: u32,
    pub removals: u32,
    /// Still at risk at D.
    pub at_risk: u32,
}

/// Aalen and Johansen's estimate of the share repeated within `days`, removal competing: each removal
/// takes its machine out of those that could still come back. Each entry is (days at risk, end), days > 0.
///
/// Limits on the log(−log) scale with the delta-method variance (Marubini and Valsecchi, Analysing
/// Survival Data, 1995, section 10.3). Source: Aalen and Johansen, Scandinavian Journal of Statistics, 1978.
pub fn share_repeated(
    at_risk: &[(f64, End)],
    days: f64,
    confidence: f64,
) -> Result<RepeatedShare, RepeatsError> {
    check_confidence(confidence)?;
    for (name, actual) in at_risk.iter().map(|entry| ("a time at risk", entry.0)).chain([("the days", days)])
    {
        if !(actual.is_finite() && actual > 0.0) {
            return Err(RepeatsError::Parameter { name, allowed: "a finite number above zero", actual });
        }
    }
    if at_risk.is_empty() {
        return Err(RepeatsError::TooFew { what: "times at risk", needed: 1, actual: 0 });
    }
    let steps = steps(at_risk, days);
    let share: f64 = steps.iter().map(Step::repeated).sum();
    let count = |which| at_risk.iter().filter(|(time, end)| *time <= days && *end == which).count() as u32;

    let (mut reached, mut variance) = (0.0, 0.0);
    for step in &steps {
        reached += step.repeated();
        let (n, left) = (step.n, step.n - step.repeats - step.removals);
        let ahead = share - reached;
        if left > 0.0 {
            variance += ahead * ahead * (n - left) / (n * left);
        }
        variance += step.before * step.before * (n - step.repeats) * step.repeats / n.powi(3);
        variance -= 2.0 * ahead * step.before * step.repeats / (n * n);
    }
    let band = (share > 0.0 && share < 1.0).then(|| {
        let z = -normal_quantile(0.5 * (1.0 - confidence));
        let width = z * variance.max(0.0).sqrt() / (share * share.ln()).abs();
        (share.powf(width.exp()), share.powf((-width).exp()))
    });
    Ok(RepeatedShare {
        days,
        share,
        lower: band.map(|band| band.0),
        upper: band.map(|band| band.1),
        confidence,
        n: at_risk.len() as u32,
        repeats: count(End::Repeat),
        removals: count(End::Removed),
        at_risk: at_risk.iter().filter(|(time, _)| *time > days).count() as u32,
    })
}

/// A time at which something ended, with the machines at risk just before it.
struct Step {
    n: f64,
    repeats: f64,
    removals: f64,
    /// The share neither repeated nor removed before.
    before: f64,
}

impl Step {
    fn repeated(&self) -> f64 {
        self.before * self.repeats / self.n
    }
}

fn steps(at_risk: &[(f64, End)], days: f64) -> Vec<Step> {
    let mut sorted = at_risk.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut n = sorted.len() as f64;
    let mut before = 1.0;
    let mut steps = Vec::new();
    for same_time in sorted.chunk_by(|a, b| a.0.total_cmp(&b.0).is_eq()) {
        if same_time[0].0 > days {
            break;
        }
        let of = |which| same_time.iter().filter(|(_, end)| *end == which).count() as f64;
        let (repeats, removals) = (of(End::Repeat), of(End::Removed));
        if repeats + removals > 0.0 {
            steps.push(Step { n, repeats, removals, before });
        }
        before *= 1.0 - (repeats + removals) / n;
        n -= same_time.len() as f64;
    }
    steps
}

/// Repeats seen against those that the fleet's failure rate alone would give.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AgainstChance {
    pub observed: u32,
    pub expected: f64,
    /// Observed over expected; none where nothing was expected.
    pub ratio: Option<f64>,
    /// Limits of the ratio by those of a Poisson count: a little wide, as each index comes back once at most.
    pub lower: Option<f64>,
    pub upper: Option<f64>,
    pub confidence: f64,
}

/// O/E with E = Σ [1 − exp(−Λᵢ)], Λᵢ the fleet's failure rate integrated over the i-th index's own time at
/// risk (finite, not negative).
pub fn against_chance(
    observed: u32,
    integrated_rates: &[f64],
    confidence: f64,
) -> Result<AgainstChance, RepeatsError> {
    if let Some(&actual) = integrated_rates.iter().find(|rate| !(rate.is_finite() && **rate >= 0.0)) {
        let (name, allowed) = ("an integrated rate", "a finite number from zero");
        return Err(RepeatsError::Parameter { name, allowed, actual });
    }
    if observed as usize > integrated_rates.len() {
        let (name, allowed) = ("the observed repeats", "at most the number of restorations");
        return Err(RepeatsError::Parameter { name, allowed, actual: observed.into() });
    }
    let expected: f64 = integrated_rates.iter().map(|rate| -(-rate).exp_m1()).sum();
    let limits = garwood(observed, confidence)?;
    let over = |value: f64| (expected > 0.0).then(|| value / expected);
    Ok(AgainstChance {
        observed,
        expected,
        ratio: over(observed.into()),
        lower: over(limits.lower),
        upper: over(limits.upper),
        confidence,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::TimeDelta;

    fn id<T: std::str::FromStr<Err: std::fmt::Debug>>(number: u8) -> T {
        format!("01890a5d-ac96-774b-bcce-b3020000{number:04x}").parse().unwrap()
    }

    fn on_day(day: i64) -> Timestamp {
        let start: Timestamp = "2026-01-01T00:00:00Z".parse().unwrap();
        Timestamp::new(start.instant() + TimeDelta::days(day)).unwrap()
    }

    fn fault(work_order: u8, failure_mode: &str, reported: i64, restored: Option<i64>) -> Confirmation {
        Confirmation {
            work_order: id(work_order),
            appliance: id(1),
            occasion: Occasion::Corrective,
            found: Found::Fault {
                position: Position::FillValve,
                failure_mode: Key::new(failure_mode).unwrap(),
            },
            reported_at: on_day(reported),
            confirmed_at: on_day(reported),
            restored_at: restored.map(on_day),
        }
    }

    fn days_and_ends(
        confirmations: &[Confirmation],
        sameness: Sameness,
        departure: Option<Departure>,
    ) -> Vec<(f64, End)> {
        let departures = departure.map(|departure| (id(1), departure)).into_iter().collect();
        let indices = indices(confirmations, &departures, sameness, on_day(100));
        indices.iter().map(|index| (index.days, index.end)).collect()
    }

    #[test]
    fn each_restoration_of_a_chain_is_an_index_and_its_own_event_never_counts() {
        let chain = [
            fault(1, "slow", 0, Some(2)),
            fault(2, "slow", 12, Some(13)),
            fault(3, "sticks_open", 20, Some(21)),
        ];
        assert_eq!(
            days_and_ends(&chain, Sameness::Fault, None),
            [(10.0, End::Repeat), (87.0, End::Censored), (79.0, End::Censored)]
        );
        assert_eq!(
            days_and_ends(&chain, Sameness::Position, None),
            [(10.0, End::Repeat), (7.0, End::Repeat), (79.0, End::Censored)]
        );
    }

    #[test]
    fn a_departure_ends_the_time_at_risk() {
        let one = [fault(1, "slow", 0, Some(2))];
        let gone =
            |at, removed| days_and_ends(&one, Sameness::Fault, Some(Departure { at: on_day(at), removed }));
        assert_eq!(gone(30, true), [(28.0, End::Removed)]);
        assert_eq!(gone(30, false), [(28.0, End::Censored)]);
        assert_eq!(gone(300, true), [(98.0, End::Censored)], "not yet gone at the last complete day");
        assert_eq!(gone(1, true), []);
    }

    #[test]
    fn orders_of_one_failure_give_one_index_and_planned_work_none() {
        let twice = [fault(1, "slow", 0, Some(2)), fault(2, "slow", 1, Some(4)), fault(3, "slow", 10, None)];
        assert_eq!(days_and_ends(&twice, Sameness::Fault, None), [(6.0, End::Repeat)]);
        let planned = [Confirmation { occasion: Occasion::Planned, ..fault(1, "slow", 0, Some(2)) }];
        assert_eq!(days_and_ends(&planned, Sameness::Fault, None), []);
    }

    /// Four at risk: one back at 10, one removed at 20, one back at 30, one watched to 40. By hand
    /// 1/4 + (1/2)(1/2) = 1/2; counting removals as watched would give 1/4 + (3/4)(1/2) = 5/8.
    #[test]
    fn removal_competes() {
        let at_risk = [(10.0, End::Repeat), (20.0, End::Removed), (30.0, End::Repeat), (40.0, End::Censored)];
        let share = |days| share_repeated(&at_risk, days, 0.95).unwrap();
        assert!((share(30.0).share - 0.5).abs() < 1e-15 && (share(29.0).share - 0.25).abs() < 1e-15);
        assert_eq!((share(5.0).share, share(5.0).lower, share(5.0).at_risk), (0.0, None, 4));
    }

    #[test]
    fn bad_times_are_errors() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(share_repeated(&[(bad, End::Repeat)], 30.0, 0.95).is_err(), "{bad}");
            assert!(share_repeated(&[(1.0, End::Repeat)], bad, 0.95).is_err(), "{bad}");
        }
        assert!(share_repeated(&[], 30.0, 0.95).is_err());
        assert!(against_chance(1, &[-0.1], 0.95).is_err() && against_chance(2, &[0.1], 0.95).is_err());
    }

    #[test]
    fn chance_is_counted_once_for_each_index() {
        let chance = against_chance(3, &[0.1, 0.1, 2.0, 0.0], 0.95).unwrap();
        let expected = 2.0 * (1.0 - (-0.1_f64).exp()) + 1.0 - (-2.0_f64).exp();
        assert!((chance.expected - expected).abs() < 1e-15);
        assert!(chance.lower < chance.ratio && chance.ratio < chance.upper);
        assert_eq!(against_chance(0, &[0.0], 0.95).unwrap().ratio, None);
    }
}
