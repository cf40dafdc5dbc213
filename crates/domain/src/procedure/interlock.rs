//! The rules around a defeated interlock: never alone, never without an end, never forgotten.

use crate::id::{InterlockDefeatId, PersonId};
use crate::time::Timestamp;

/// One defeat as it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct InterlockDefeatState {
    pub id: InterlockDefeatId,
    pub opened_at: Timestamp,
    pub expires_at: Timestamp,
    pub removed_at: Option<Timestamp>,
}

/// A defeat about to be opened.
#[derive(Debug, Clone, Copy)]
pub struct DefeatOpening {
    pub opened_by: PersonId,
    /// Present where the second person is one of the company's; a customer's own person is named in text.
    pub second_person: Option<PersonId>,
    pub opened_at: Timestamp,
    pub expires_at: Timestamp,
}

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DefeatError {
    #[error("the second person must be somebody other than the one who opens the defeat")]
    SamePerson,
    #[error("the defeat must end after it begins and within {limit} min")]
    TooLong { limit: u32 },
    #[error("another defeat is still open on this job: remove it and record its removal first")]
    AnotherIsOpen,
    #[error("the defeat is removed already")]
    RemovedAlready,
    #[error("a defeat cannot be removed before it was opened")]
    RemovedBeforeOpened,
}

/// No defeat lasts longer than this many minutes, whatever it is for (common practice, no source). A
/// procedure's own limit is as a rule shorter.
pub const LONGEST_DEFEAT_MINUTES: u32 = 30;

/// Whether a defeat of at most `limit` minutes may be opened now, given those of the same job.
pub fn check_opening(
    limit: u32,
    opening: &DefeatOpening,
    of_job: &[InterlockDefeatState],
) -> Result<(), DefeatError> {
    if opening.second_person == Some(opening.opened_by) {
        return Err(DefeatError::SamePerson);
    }
    let lasts = opening.expires_at.instant() - opening.opened_at.instant();
    if lasts <= chrono::TimeDelta::zero() || lasts > chrono::TimeDelta::minutes(i64::from(limit)) {
        return Err(DefeatError::TooLong { limit });
    }
    if open_defeats(of_job).next().is_some() {
        return Err(DefeatError::AnotherIsOpen);
    }
    Ok(())
}

/// Whether two names are written for the same person, as far as names tell: the same letters in the same words, whatever their
/// order, case, spaces and punctuation.
pub fn is_same_name(one: &str, other: &str) -> bool {
    let words = |name: &str| {
        let mut words: Vec<String> = name
            .split(|letter: char| !letter.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .map(str::to_lowercase)
            .collect();
        words.sort_unstable();
        words
    };
    words(one) == words(other)
}

/// Whether this removal can be recorded. Removing late is always allowed: what matters is that it is off.
pub fn check_removal(defeat: &InterlockDefeatState, removed_at: Timestamp) -> Result<(), DefeatError> {
    if defeat.removed_at.is_some() {
        Err(DefeatError::RemovedAlready)
    } else if removed_at < defeat.opened_at {
        Err(DefeatError::RemovedBeforeOpened)
    } else {
        Ok(())
    }
}

/// The defeats whose removal is not recorded. While there is one, its job cannot be closed, whether its
/// time has run out or not.
pub fn open_defeats(of_job: &[InterlockDefeatState]) -> impl Iterator<Item = &InterlockDefeatState> {
    of_job.iter().filter(|defeat| defeat.removed_at.is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minute: u32) -> Timestamp {
        format!("2026-03-02T10:{minute:02}:00Z").parse().unwrap()
    }

    fn defeat(removed_at: Option<Timestamp>) -> InterlockDefeatState {
        let id = "01890a5d-ac96-774b-bcce-b302099a8057".parse().unwrap();
        InterlockDefeatState { id, opened_at: at(0), expires_at: at(5), removed_at }
    }

    fn opening(second_person: Option<&str>, minutes: u32) -> DefeatOpening {
        DefeatOpening {
            opened_by: "01890a5d-ac96-774b-bcce-b302099a8057".parse().unwrap(),
            second_person: second_person.map(|id| id.parse().unwrap()),
            opened_at: at(0),
            expires_at: at(minutes),
        }
    }

    #[test]
    fn a_defeat_needs_another_person_and_an_end() {
        let alone = opening(Some("01890a5d-ac96-774b-bcce-b302099a8057"), 5);
        assert_eq!(check_opening(5, &alone, &[]), Err(DefeatError::SamePerson));
        let accompanied = opening(Some("01890a5d-ac96-774b-bcce-b302099a8058"), 5);
        assert_eq!(check_opening(5, &accompanied, &[defeat(Some(at(3)))]), Ok(()));
        assert_eq!(check_opening(5, &accompanied, &[defeat(None)]), Err(DefeatError::AnotherIsOpen));
        for minutes in [0, 6] {
            let error = check_opening(5, &opening(None, minutes), &[]);
            assert_eq!(error, Err(DefeatError::TooLong { limit: 5 }), "{minutes}");
        }
    }

    #[test]
    fn a_name_is_the_same_however_it_is_written() {
        for other in ["Ada  Kern", " ada kern", "KERN, Ada", "Kern-Ada "] {
            assert!(is_same_name("Ada Kern", other), "{other}");
        }
        for other in ["Ada", "Ada Kerner", "Ada B. Kern", ""] {
            assert!(!is_same_name("Ada Kern", other), "{other}");
        }
    }

    #[test]
    fn a_defeat_stays_open_past_its_time_until_its_removal_is_recorded() {
        assert_eq!(open_defeats(&[defeat(None), defeat(Some(at(3)))]).count(), 1);
        assert_eq!(check_removal(&defeat(None), at(59)), Ok(()));
        assert_eq!(check_removal(&defeat(Some(at(3))), at(4)), Err(DefeatError::RemovedAlready));
        let before: Timestamp = "2026-03-02T09:59:00Z".parse().unwrap();
        assert_eq!(check_removal(&defeat(None), before), Err(DefeatError::RemovedBeforeOpened));
    }
}
