//! The lives that the records of fitted parts show.

use serde::{Deserialize, Serialize};

use super::Life;
use crate::time::Timestamp;

/// One part as fitted at one position of one machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct FittedPart {
    /// None if nobody knows when it was fitted.
    pub fitted_at: Option<Timestamp>,
    /// When its machine came under our eyes; a failure before would not have been recorded.
    pub recorded_from: Timestamp,
    /// Taken out, for whatever reason.
    pub removed_at: Option<Timestamp>,
    /// A finding confirmed that this part had failed.
    pub failure_confirmed: bool,
    /// When its machine went out of sight: removal, the end of the contract.
    pub observed_until: Option<Timestamp>,
}

/// Parts that show no life, and why.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct NotCounted {
    pub fitting_date_unknown: u32,
    /// Not under observation for any time before `as_of`, or with times that contradict each other.
    pub not_observed: u32,
}

/// The lives in days, as known at `as_of`. A part failed only if it was removed **and** its failure was
/// confirmed; one that was exchanged as a precaution, or still works, is known to have lived so long.
pub fn lives(parts: &[FittedPart], as_of: Timestamp) -> (Vec<Life>, NotCounted) {
    let mut not_counted = NotCounted::default();
    let mut lives = Vec::with_capacity(parts.len());
    for part in parts {
        let Some(fitted_at) = part.fitted_at else {
            not_counted.fitting_date_unknown += 1;
            continue;
        };
        let out_of_sight = part.observed_until.map_or(as_of, |until| until.min(as_of));
        let removed_at = part.removed_at.filter(|removed| *removed <= out_of_sight);
        let age =
            |at: Timestamp| (at.instant() - fitted_at.instant()).num_milliseconds() as f64 / 86_400_000.0;
        let life = Life {
            entry: age(part.recorded_from).max(0.0),
            exit: age(removed_at.unwrap_or(out_of_sight)),
            failed: removed_at.is_some() && part.failure_confirmed,
        };
        if life.entry < life.exit {
            lives.push(life);
        } else {
            not_counted.not_observed += 1;
        }
    }
    (lives, not_counted)
}

/// In days that are begun: the age at entry in days that are over, the age at exit in days begun, so that no life is
/// lost. Ages of a fleet are then few, and equal ones are counted together.
pub fn in_days_begun(lives: &[Life]) -> Vec<Life> {
    let begun = |life: &Life| Life { entry: life.entry.floor(), exit: life.exit.ceil(), failed: life.failed };
    lives.iter().map(begun).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::TimeDelta;

    fn on_day(day: i64) -> Timestamp {
        let start: Timestamp = "2024-01-01T00:00:00Z".parse().unwrap();
        Timestamp::new(start.instant() + TimeDelta::days(day)).unwrap()
    }

    #[test]
    fn a_failure_needs_removal_and_confirmation() {
        let part = FittedPart {
            fitted_at: Some(on_day(10)),
            recorded_from: on_day(0),
            removed_at: Some(on_day(110)),
            failure_confirmed: true,
            observed_until: None,
        };
        let life = |part: FittedPart, as_of| lives(&[part], on_day(as_of)).0.first().copied();
        let of = |entry, exit, failed| Some(Life { entry, exit, failed });
        assert_eq!(life(part, 500), of(0.0, 100.0, true));
        assert_eq!(life(FittedPart { failure_confirmed: false, ..part }, 500), of(0.0, 100.0, false));
        assert_eq!(life(FittedPart { removed_at: None, ..part }, 500), of(0.0, 490.0, false));
        assert_eq!(life(part, 60), of(0.0, 50.0, false), "its removal was not yet known");
        assert_eq!(life(FittedPart { recorded_from: on_day(40), ..part }, 500), of(30.0, 100.0, true));
        assert_eq!(life(FittedPart { observed_until: Some(on_day(90)), ..part }, 500), of(0.0, 80.0, false));
    }

    #[test]
    fn what_shows_no_life_is_counted() {
        let unknown = FittedPart {
            fitted_at: None,
            recorded_from: on_day(0),
            removed_at: None,
            failure_confirmed: false,
            observed_until: None,
        };
        let future = FittedPart { fitted_at: Some(on_day(600)), ..unknown };
        let gone = FittedPart {
            fitted_at: Some(on_day(0)),
            recorded_from: on_day(50),
            removed_at: Some(on_day(40)),
            ..unknown
        };
        let (lives, not_counted) = lives(&[unknown, future, gone], on_day(500));
        assert!(lives.is_empty());
        assert_eq!(not_counted, NotCounted { fitting_date_unknown: 1, not_observed: 2 });
    }
}
