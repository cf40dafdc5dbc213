//! What a finding and an action taken must say to mean something.

use crate::text::{Key, Words};
use crate::time::Timestamp;
use crate::violation::{Violation, Violations};
use crate::vocabulary::{Action, Condition};

/// A finding as somebody sends it, as far as its parts hang together.
#[derive(Debug, Clone, Copy)]
pub struct FindingParts<'a> {
    pub condition: Condition,
    pub failure_mode: Option<&'a Key>,
    pub mechanism: Option<&'a Key>,
    pub cause: Option<&'a Key>,
    pub note: Option<&'a Words>,
}

/// What is wrong with a finding: a fault has a failure mode, a healthy position has none, and what was
/// not tested says why.
pub fn check_finding(finding: &FindingParts<'_>) -> Result<(), Vec<Violation>> {
    let mut violations = Violations::new();
    let is_fault = matches!(finding.condition, Condition::Degraded | Condition::Failed);
    let condition = finding.condition;
    if is_fault {
        let detail = format!("say in which manner it is {condition}");
        violations.require(finding.failure_mode.is_some(), "/failure_mode", detail);
    } else {
        for (pointer, given) in [
            ("/failure_mode", finding.failure_mode),
            ("/mechanism", finding.mechanism),
            ("/cause", finding.cause),
        ] {
            violations.require(given.is_none(), pointer, format!("belongs to a fault; {condition} has none"));
        }
    }
    let is_explained = condition != Condition::NotTested || finding.note.is_some();
    violations.require(is_explained, "/note", "say why it was not tested");
    violations.finish()
}

/// What is wrong with an action taken: a stopgap says when it must end, and nothing else ends.
pub fn check_action(
    action: &Key,
    taken_at: Timestamp,
    expires_at: Option<Timestamp>,
) -> Result<(), Vec<Violation>> {
    let mut violations = Violations::new();
    let is_stopgap = action.as_str().parse::<Action>().is_ok_and(Action::is_temporary);
    match expires_at {
        None => violations.require(!is_stopgap, "/expires_at", "a stopgap says when it must end"),
        Some(_) if !is_stopgap => {
            violations.add("/expires_at", format!("{action} is no stopgap; leave it out"));
        }
        Some(at) => violations.require(at > taken_at, "/expires_at", format!("must lie after {taken_at}")),
    }
    violations.finish()
}

/// Whether an action begins a new epoch of evidence. A company's own action is taken to change the machine.
pub fn changes_the_machine(action: &Key) -> bool {
    action.as_str().parse::<Action>().ok().is_none_or(Action::changes_the_machine)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(text: &str) -> Key {
        Key::new(text).unwrap()
    }

    fn pointers(result: Result<(), Vec<Violation>>) -> Vec<String> {
        result.err().unwrap_or_default().into_iter().map(|violation| violation.pointer).collect()
    }

    #[test]
    fn only_a_fault_has_a_failure_mode_and_it_must_have_one() {
        let (mode, note) = (key("blocked"), Words::new("no water").unwrap());
        for &condition in Condition::ALL {
            let bare =
                FindingParts { condition, failure_mode: None, mechanism: None, cause: None, note: None };
            let full = FindingParts {
                failure_mode: Some(&mode),
                mechanism: Some(&mode),
                cause: Some(&mode),
                note: Some(&note),
                ..bare
            };
            let (wrong_bare, wrong_full): (&[&str], &[&str]) = match condition {
                Condition::Degraded | Condition::Failed => (&["/failure_mode"], &[]),
                Condition::NotTested => (&["/note"], &["/failure_mode", "/mechanism", "/cause"]),
                _ => (&[], &["/failure_mode", "/mechanism", "/cause"]),
            };
            assert_eq!(pointers(check_finding(&bare)), wrong_bare, "{condition}");
            assert_eq!(pointers(check_finding(&full)), wrong_full, "{condition}");
        }
    }

    #[test]
    fn a_stopgap_ends_and_nothing_else_does() {
        let now = "2026-03-02T10:00:00Z".parse().unwrap();
        let later = Some("2026-03-09T10:00:00Z".parse().unwrap());
        assert_eq!(check_action(&key("bypassed_temporary"), now, later), Ok(()));
        assert_eq!(check_action(&key("replaced"), now, None), Ok(()));
        for (action, expires_at) in [
            ("bypassed_temporary", None),
            ("replaced_temporary", Some(now)),
            ("replaced", later),
            ("own_action", later),
        ] {
            assert_eq!(pointers(check_action(&key(action), now, expires_at)), ["/expires_at"], "{action}");
        }
    }

    #[test]
    fn a_companys_own_action_changes_the_machine() {
        assert!(changes_the_machine(&key("repainted")));
        assert!(changes_the_machine(&key("cleaned")));
        assert!(!changes_the_machine(&key("explained_use")));
    }
}
