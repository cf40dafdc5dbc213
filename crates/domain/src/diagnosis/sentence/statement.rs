//! What a diagnosis states, each statement with its probability: what is near certain first, then what is open.

use std::fmt::Write as _;

use super::figures::Percent;
use crate::diagnosis::answer::{Diagnosis, RankedFault};
use crate::text::Key;
use crate::vocabulary::Position;

/// One thing that may stand: a fault, several that no test tells apart, or that nothing is wrong.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::diagnosis) struct Statement {
    pub text: String,
    pub probability: f64,
    /// The faults that it speaks of; none where it says that nothing is wrong.
    pub faults: Vec<Key>,
    /// Of the most probable of them.
    pub position: Option<Position>,
}

/// From here on it is called sure.
const SURE: f64 = 0.9;
/// Less than this is not named.
pub(in crate::diagnosis) const NAMED: f64 = 0.1;

impl Diagnosis {
    /// All that is worth a word, most probable first.
    pub(in crate::diagnosis) fn statements(&self) -> Vec<Statement> {
        let mut statements: Vec<Statement> = Vec::new();
        for fault in self.faults.iter().chain(&self.external_states) {
            if statements.iter().any(|of| of.faults.contains(&fault.fault)) {
                continue;
            }
            let of = self.statement_of(fault);
            statements.extend((of.probability >= NAMED).then_some(of));
        }
        let mut about_nothing = |text: &str, probability: f64| {
            if probability >= NAMED {
                let text = text.to_owned();
                statements.push(Statement { text, probability, faults: Vec::new(), position: None });
            }
        };
        // That the machine is sound says more than that nothing is wrong at all, where something outside is.
        if self.machine_sound > self.nothing_found + NAMED {
            about_nothing("the machine itself is sound", self.machine_sound);
        } else {
            about_nothing("nothing is wrong", self.nothing_found);
        }
        about_nothing("something that the catalogue does not describe", self.other);
        statements.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        statements
    }

    /// A fault with those that no test tells from it, while they are probable enough to be named.
    fn statement_of(&self, fault: &RankedFault) -> Statement {
        let alike = self.look_alikes.iter().find(|group| group.faults.contains(&fault.fault));
        let all = || self.faults.iter().chain(&self.external_states);
        let named: Vec<&RankedFault> = match alike.filter(|group| group.probability >= NAMED) {
            Some(group) => {
                all().filter(|of| group.faults.contains(&of.fault) && of.probability >= 0.5 * NAMED).collect()
            }
            None => Vec::new(),
        };
        match alike {
            Some(group) if named.len() > 1 => Statement {
                text: named.iter().map(|of| of.title.as_str()).collect::<Vec<_>>().join(" or "),
                probability: group.probability,
                faults: named.iter().map(|of| of.fault.clone()).collect(),
                position: named.first().map(|of| of.position),
            },
            _ => Statement {
                text: fault.title.to_string(),
                probability: fault.probability,
                faults: vec![fault.fault.clone()],
                position: Some(fault.position),
            },
        }
    }

    /// What is sure, then what is open, and how probable the likeliest of it are together.
    pub(in crate::diagnosis) fn sentence_of_statements(&self) -> String {
        let statements = self.statements();
        let with_figure = |of: &Statement| format!("{} ({})", of.text, Percent(of.probability));
        let list = |of: &[Statement]| of.iter().map(with_figure).collect::<Vec<_>>().join("; ");
        let (sure, open) = statements.split_at(statements.partition_point(|of| of.probability >= SURE));
        let mut text = String::new();
        if !sure.is_empty() {
            let _ = write!(text, "Sure: {}.", list(sure));
        }
        if open.is_empty() {
            if sure.is_empty() {
                text.push_str("Nothing stands out: no single fault is probable.");
            }
            return text;
        }
        if !sure.is_empty() {
            text.push_str(" Open: ");
        } else if open[0].probability >= 0.5 {
            text.push_str("Probably: ");
        } else {
            text.push_str("Nothing is probable yet; to be thought of first: ");
        }
        text.push_str(&list(open));
        if let Some(together) = self.together(&statements) {
            let _ = write!(text, "; {together}");
        }
        text.push('.');
        text
    }

    /// The most probable set of two things or more that are all named, behind each by itself.
    fn together(&self, statements: &[Statement]) -> Option<String> {
        let set = self.sets.iter().find(|set| set.faults.len() + set.external_states.len() > 1)?;
        let keys: Vec<&Key> = set.faults.iter().chain(&set.external_states).collect();
        let named = |key: &&Key| statements.iter().any(|of| of.faults.contains(key));
        if set.probability < NAMED || !set.other_in.is_empty() || !keys.iter().all(named) {
            return None;
        }
        let titles: Vec<String> = keys.iter().map(|key| self.title(key)).collect();
        let which = match (keys.len(), statements.iter().filter(|of| !of.faults.is_empty()).count()) {
            (2, 2) => "both together".to_owned(),
            _ => format!("{} together", titles.join(" and ")),
        };
        Some(format!("{which} {}", Percent(set.probability)))
    }
}
