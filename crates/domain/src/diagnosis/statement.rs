//! What a diagnosis states, each statement with its probability: what is near certain first, then what is open.

use super::answer::{Diagnosis, RankedFault, RankedSet};
use crate::text::Key;

/// One thing that may stand, as probable as that.
#[derive(Debug, Clone, PartialEq)]
pub struct Statement<'a> {
    pub what: Stated<'a>,
    /// Between 0 and 1.
    pub probability: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Stated<'a> {
    /// A fault, or several that no test tells apart, most probable first.
    Faults(Vec<&'a RankedFault>),
    /// Nothing is wrong with the machine itself.
    MachineSound,
    /// Nothing is wrong at all.
    NothingWrong,
    /// Something that the catalogue does not describe.
    NotDescribed,
}

impl Statement<'_> {
    /// From here on it is called sure.
    pub const SURE: f64 = 0.9;
    /// Less than this is not named.
    pub const NAMED: f64 = 0.1;

    fn speaks_of(&self, key: &Key) -> bool {
        matches!(&self.what, Stated::Faults(faults) if faults.iter().any(|of| of.fault == *key))
    }
}

impl Diagnosis {
    /// All that is worth a word, most probable first.
    pub fn statements(&self) -> Vec<Statement<'_>> {
        let mut statements: Vec<Statement<'_>> = Vec::new();
        for fault in self.faults.iter().chain(&self.external_states) {
            if statements.iter().any(|of| of.speaks_of(&fault.fault)) {
                continue;
            }
            let of = self.statement_of(fault);
            statements.extend((of.probability >= Statement::NAMED).then_some(of));
        }
        // That the machine is sound says more than that nothing is wrong at all, where something outside is.
        let nothing = if self.machine_sound > self.nothing_found + Statement::NAMED {
            Statement { what: Stated::MachineSound, probability: self.machine_sound }
        } else {
            Statement { what: Stated::NothingWrong, probability: self.nothing_found }
        };
        let other = Statement { what: Stated::NotDescribed, probability: self.other };
        statements.extend([nothing, other].into_iter().filter(|of| of.probability >= Statement::NAMED));
        statements.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        statements
    }

    /// A fault with those that no test tells from it, while they are probable enough to be named.
    fn statement_of<'a>(&'a self, fault: &'a RankedFault) -> Statement<'a> {
        let alike = self.look_alikes.iter().find(|group| group.faults.contains(&fault.fault));
        if let Some(group) = alike.filter(|group| group.probability >= Statement::NAMED) {
            let all = self.faults.iter().chain(&self.external_states);
            let is_named = |of: &&RankedFault| {
                group.faults.contains(&of.fault) && of.probability >= 0.5 * Statement::NAMED
            };
            let named: Vec<&RankedFault> = all.filter(is_named).collect();
            if named.len() > 1 {
                return Statement { what: Stated::Faults(named), probability: group.probability };
            }
        }
        Statement { what: Stated::Faults(vec![fault]), probability: fault.probability }
    }

    /// The most probable set of two things or more that are all named among these, behind each by itself.
    pub fn named_together(&self, statements: &[Statement<'_>]) -> Option<&RankedSet> {
        let set = self.sets.iter().find(|set| set.faults.len() + set.external_states.len() > 1)?;
        let mut keys = set.faults.iter().chain(&set.external_states);
        let is_named = |key: &Key| statements.iter().any(|of| of.speaks_of(key));
        let is_said = set.probability >= Statement::NAMED && set.other_in.is_empty() && keys.all(is_named);
        is_said.then_some(set)
    }
}
