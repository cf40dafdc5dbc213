//! Which readings count as known good.

use std::collections::BTreeMap;

use chrono::TimeDelta;
use serde::{Deserialize, Serialize};

use crate::id::{ApplianceId, TestRunId};
use crate::quantity::Scale;
use crate::time::Timestamp;

/// Without a corrective call for so long, a machine was good.
pub const QUIET_DAYS: i64 = 30;

/// One reading of one quantity with what happened around it, from a corrective or a planned visit
/// alike. Whether it passed its own limits is deliberately no part of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    pub appliance: ApplianceId,
    pub test_run: TestRunId,
    pub taken_at: Timestamp,
    /// Corrected to reference conditions, in the quantity's canonical unit; none if it could not be.
    pub value: Option<f64>,
    /// All other tests of the same epoch together.
    pub other_tests: Outcome,
    /// The full cycle after the reading, in the same epoch.
    pub full_cycle: Outcome,
    /// The first corrective call about the machine after the reading.
    pub next_corrective_call_at: Option<Timestamp>,
    /// When calls about the machine ceased to reach us: its removal, the end of the contract.
    pub observed_until: Option<Timestamp>,
    /// Set by a person who looked at it, never by a rule.
    pub removed_because: Option<RemovalReason>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    Passed,
    /// Failed, inconclusive or doubtful in any part.
    NotPassed,
    NotRun,
}

crate::word_list! {
    /// The reasons for which a person may remove a reading from the references.
    pub enum RemovalReason {
        InstrumentFaulty = "instrument_faulty",
        ReadWrongly = "read_wrongly",
        WrittenDownWrongly = "written_down_wrongly",
        ProcedureNotFollowed = "procedure_not_followed",
        MachineModified = "machine_modified",
        WrongMachine = "wrong_machine",
    }
}

/// Why a reading does not count; the first reason that applies, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NotCounted {
    TakenAfterAsOf,
    RemovedByPerson,
    /// Not corrected to reference conditions, or not a number that the scale can hold.
    NotUsable,
    OtherTestsNotPassed,
    FullCycleNotPassed,
    CalledWithinQuietDays,
    /// The quiet days are not over yet, or the machine was not observed to their end.
    QuietDaysNotOver,
    /// It counts, and a later reading of the same unit was used.
    LaterReadingUsed,
}

pub type LeftOut = BTreeMap<NotCounted, u32>;

/// A reading that counts, in its unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct KnownGood {
    pub appliance: ApplianceId,
    pub test_run: TestRunId,
    pub taken_at: Timestamp,
    pub value: f64,
}

/// The readings that count at `as_of`, by unit and then by time, with the number left out for each
/// reason. The answer does not depend on the order in which the evidence is given.
pub fn known_good(evidence: &[Evidence], scale: Scale, as_of: Timestamp) -> (Vec<KnownGood>, LeftOut) {
    let mut counted = Vec::with_capacity(evidence.len());
    let mut left_out = LeftOut::new();
    for reading in evidence {
        match judge(reading, scale, as_of) {
            Ok(value) => counted.push(KnownGood {
                appliance: reading.appliance,
                test_run: reading.test_run,
                taken_at: reading.taken_at,
                value,
            }),
            Err(reason) => *left_out.entry(reason).or_default() += 1,
        }
    }
    counted.sort_unstable_by_key(|reading| (reading.appliance, reading.taken_at, reading.test_run));
    (counted, left_out)
}

/// One reading per unit, the latest; the others are added to `left_out`.
pub fn one_per_unit(counted: Vec<KnownGood>, left_out: &mut LeftOut) -> Vec<KnownGood> {
    let readings = counted.len();
    let mut latest: Vec<KnownGood> = Vec::with_capacity(readings);
    for reading in counted {
        match latest.last_mut() {
            Some(earlier) if earlier.appliance == reading.appliance => *earlier = reading,
            _ => latest.push(reading),
        }
    }
    let replaced = (readings - latest.len()) as u32;
    if replaced > 0 {
        *left_out.entry(NotCounted::LaterReadingUsed).or_default() += replaced;
    }
    latest
}

/// The usable value of a reading that counts, or why it does not.
pub fn judge(reading: &Evidence, scale: Scale, as_of: Timestamp) -> Result<f64, NotCounted> {
    if reading.taken_at > as_of {
        return Err(NotCounted::TakenAfterAsOf);
    }
    if reading.removed_because.is_some() {
        return Err(NotCounted::RemovedByPerson);
    }
    let usable = |value: &f64| value.is_finite() && (scale == Scale::Linear || *value > 0.0);
    let value = reading.value.filter(usable).ok_or(NotCounted::NotUsable)?;
    if reading.other_tests != Outcome::Passed {
        return Err(NotCounted::OtherTestsNotPassed);
    }
    if reading.full_cycle != Outcome::Passed {
        return Err(NotCounted::FullCycleNotPassed);
    }
    let quiet_until = reading.taken_at.instant() + TimeDelta::days(QUIET_DAYS);
    let within = |at: Option<Timestamp>| at.is_some_and(|at| at.instant() < quiet_until);
    if within(reading.next_corrective_call_at.filter(|call| *call <= as_of)) {
        Err(NotCounted::CalledWithinQuietDays)
    } else if within(reading.observed_until) || within(Some(as_of)) {
        Err(NotCounted::QuietDaysNotOver)
    } else {
        Ok(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn id<T: std::str::FromStr<Err: std::fmt::Debug>>(number: u16) -> T {
        format!("01890a5d-ac96-774b-bcce-b3020000{number:04x}").parse().unwrap()
    }

    fn on_day(day: i64) -> Timestamp {
        let start: Timestamp = "2026-01-01T00:00:00Z".parse().unwrap();
        Timestamp::new(start.instant() + TimeDelta::days(day)).unwrap()
    }

    fn good(test_run: u16, appliance: u16, day: i64) -> Evidence {
        Evidence {
            appliance: id(appliance),
            test_run: id(test_run),
            taken_at: on_day(day),
            value: Some(12.5),
            other_tests: Outcome::Passed,
            full_cycle: Outcome::Passed,
            next_corrective_call_at: None,
            observed_until: None,
            removed_because: None,
        }
    }

    #[test]
    fn each_rule_leaves_out_what_it_should() {
        let base = good(1, 1, 10);
        let judged = |change: &dyn Fn(&mut Evidence)| {
            let mut evidence = base.clone();
            change(&mut evidence);
            judge(&evidence, Scale::Logarithmic, on_day(100))
        };
        assert_eq!(judged(&|_| ()), Ok(12.5));
        assert_eq!(judged(&|e| e.taken_at = on_day(101)), Err(NotCounted::TakenAfterAsOf));
        assert_eq!(
            judged(&|e| e.removed_because = Some(RemovalReason::ReadWrongly)),
            Err(NotCounted::RemovedByPerson)
        );
        for unusable in [None, Some(f64::NAN), Some(f64::INFINITY), Some(0.0), Some(-3.0)] {
            assert_eq!(judged(&|e| e.value = unusable), Err(NotCounted::NotUsable), "{unusable:?}");
        }
        for outcome in [Outcome::NotPassed, Outcome::NotRun] {
            assert_eq!(judged(&|e| e.other_tests = outcome), Err(NotCounted::OtherTestsNotPassed));
            assert_eq!(judged(&|e| e.full_cycle = outcome), Err(NotCounted::FullCycleNotPassed));
        }
        let called = |day| judged(&|e| e.next_corrective_call_at = Some(on_day(day)));
        assert_eq!(called(39), Err(NotCounted::CalledWithinQuietDays));
        assert_eq!(called(40), Ok(12.5), "the quiet days are over");
        assert_eq!(judged(&|e| e.observed_until = Some(on_day(39))), Err(NotCounted::QuietDaysNotOver));
        assert_eq!(judged(&|e| e.observed_until = Some(on_day(40))), Ok(12.5));
        assert_eq!(judge(&base, Scale::Linear, on_day(39)), Err(NotCounted::QuietDaysNotOver));
        assert_eq!(judged(&|e| e.taken_at = on_day(71)), Err(NotCounted::QuietDaysNotOver));
    }

    #[test]
    fn zero_counts_on_the_linear_scale() {
        let zero = Evidence { value: Some(0.0), ..good(1, 1, 10) };
        assert_eq!(judge(&zero, Scale::Linear, on_day(100)), Ok(0.0));
    }

    #[test]
    fn the_latest_reading_of_each_unit_is_used() {
        let evidence = [good(4, 2, 20), good(1, 1, 10), good(3, 1, 30), good(2, 1, 20)];
        let (counted, mut left_out) = known_good(&evidence, Scale::Linear, on_day(100));
        assert_eq!(counted.len(), 4);
        let used: Vec<_> =
            one_per_unit(counted, &mut left_out).iter().map(|reading| reading.test_run).collect();
        assert_eq!(used, [id(3), id(4)]);
        assert_eq!(left_out, LeftOut::from([(NotCounted::LaterReadingUsed, 2)]));
    }

    #[test]
    fn a_call_after_as_of_is_not_yet_known() {
        let called_later = Evidence { next_corrective_call_at: Some(on_day(35)), ..good(1, 1, 10) };
        assert_eq!(judge(&called_later, Scale::Linear, on_day(34)), Err(NotCounted::QuietDaysNotOver));
        assert_eq!(judge(&called_later, Scale::Linear, on_day(35)), Err(NotCounted::CalledWithinQuietDays));
    }
}
