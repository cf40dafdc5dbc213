//! The neutral lists in which everybody speaks of a fault. Failure, fault, failure mode, mechanism
//! and cause are told apart as in EN 13306, ISO 14224 and IEC 60050-192; the entries themselves are
//! Ovenwright's own.
//!
//! A *fault* is a state of a position; its *failure mode* is the manner in which it shows; its
//! *mechanism* the physical or chemical process behind it; its *cause* the circumstance that brought
//! it about. A lack of an external resource (a low supply pressure) is no fault of the machine: the
//! positions for which [`Position::is_external`] holds carry such states.

mod position;
mod term;
mod what_happened;
mod what_is_wrong;

pub use position::Position;
pub use term::{List, Term, UnknownTerm};
pub use what_happened::{Action, Cause, Condition, EvidenceKind, Mechanism};
pub use what_is_wrong::{FailureMode, Symptom};

/// Every list, to seed lookup tables and to show people what they may choose.
pub fn lists() -> [List; 8] {
    [
        List { name: "position", may_be_extended: false, terms: Position::TERMS },
        List { name: "symptom", may_be_extended: true, terms: Symptom::TERMS },
        List { name: "failure_mode", may_be_extended: true, terms: FailureMode::TERMS },
        List { name: "mechanism", may_be_extended: true, terms: Mechanism::TERMS },
        List { name: "cause", may_be_extended: true, terms: Cause::TERMS },
        List { name: "action", may_be_extended: true, terms: Action::TERMS },
        List { name: "finding", may_be_extended: false, terms: Condition::TERMS },
        List { name: "evidence", may_be_extended: false, terms: EvidenceKind::TERMS },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::Key;
    use std::collections::BTreeSet;

    #[test]
    fn every_term_is_a_key_once_in_its_list_and_is_described() {
        for list in lists() {
            let keys: BTreeSet<_> = list.terms.iter().map(|term| term.key).collect();
            assert_eq!(keys.len(), list.terms.len(), "{} names a key twice", list.name);
            for term in list.terms {
                assert!(Key::new(term.key).is_ok(), "{}", term.key);
                assert!(
                    term.description.len() > 5 && term.description != term.key,
                    "{} {}",
                    list.name,
                    term.key
                );
            }
        }
    }

    #[test]
    fn keys_read_back_and_unknown_ones_name_those_known() {
        assert_eq!("starts_then_fades".parse(), Ok(FailureMode::StartsThenFades));
        assert_eq!(serde_json::to_string(&Position::Use).unwrap(), "\"use\"");
        assert_eq!(serde_json::from_str::<Cause>("\"grease\"").unwrap(), Cause::Grease);
        let message = "fine".parse::<Condition>().unwrap_err().to_string();
        assert!(message.contains("degraded") && message.contains("not_tested"), "{message}");
    }
}
