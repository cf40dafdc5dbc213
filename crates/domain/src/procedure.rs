//! Test procedures as versioned data: what a technician does, reads and must heed. The same test, taken
//! the same way each time, is what makes its readings comparable.
//!
//! A version that was used never changes; a change is a new version. Limits do not stand here but in
//! the model or the appliance's record.

mod built_in;
mod interlock;
mod step;
mod validation;
mod words;

pub use built_in::built_in_procedures;
pub use interlock::{
    DefeatError, DefeatOpening, InterlockDefeatState, LONGEST_DEFEAT_MINUTES, check_opening, check_removal,
    is_same_name, open_defeats,
};
pub use step::{Choice, Clock, Correction, InterlockDefeat, PressureTap, Reads, Step};
pub use words::Place;

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::equipment::Model;
use crate::text::{Key, Name, Words};
use crate::violation::Violation;
use crate::vocabulary::Position;

/// One version of one procedure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Procedure {
    pub key: Key,
    pub version: u32,
    pub title: Name,
    /// How long it takes, for planning and for choosing the next test.
    pub minutes: f64,
    /// Skills or licences that the person must hold; none means any technician.
    #[serde(default)]
    pub skills: BTreeSet<Key>,
    /// What it is needed for; optional where empty.
    #[serde(default)]
    pub needed_for: BTreeSet<Purpose>,
    /// Whether the machine is under power for it: something is switched on, runs, or is read live. Taken for granted
    /// unless the procedure says that it is not. Never advised while a danger stands.
    #[serde(default = "under_power")]
    pub powered: bool,
    /// The positions on which its readings bear, those of the steps included.
    pub positions: BTreeSet<Position>,
    #[serde(default)]
    pub preconditions: Vec<Precondition>,
    pub cautions: Vec<Caution>,
    pub steps: Vec<Step>,
}

const fn under_power() -> bool {
    true
}

/// Names one version of a procedure.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProcedureVersion {
    pub key: Key,
    pub version: u32,
}

impl std::fmt::Display for ProcedureVersion {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "{} version {}", self.key, self.version)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Purpose {
    Diagnosis,
    /// Proof that the machine works again, before a job is closed.
    Proof,
}

/// What must hold before the readings mean anything.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Precondition {
    /// Another step has been read.
    Read { procedure: Key, step: Key, blocks: Blocks },
    /// Another procedure has been read and nothing in it failed; one step of it, where named.
    Passed {
        procedure: Key,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        step: Option<Key>,
        blocks: Blocks,
    },
    /// The technician confirms a state that nothing measures.
    Confirmed { key: Key, statement: Words, blocks: Blocks },
}

impl Precondition {
    pub const fn blocks(&self) -> Blocks {
        match self {
            Self::Read { blocks, .. } | Self::Passed { blocks, .. } | Self::Confirmed { blocks, .. } => {
                *blocks
            }
        }
    }
}

/// Which gradings an unmet precondition makes inconclusive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Blocks {
    /// The reading itself means nothing.
    EveryGrading,
    /// The reading tells what the machine does in this kitchen, but not whether the part is healthy.
    AtReference,
}

/// Advice on a danger of the work. Local codes and licensed practice prevail.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// May have [`Place`]s that the model fills when it is shown.
    pub text: Words,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub regulation: Option<Name>,
}

impl Procedure {
    pub fn id(&self) -> ProcedureVersion {
        ProcedureVersion { key: self.key.clone(), version: self.version }
    }

    pub fn step(&self, key: &Key) -> Option<&Step> {
        self.steps.iter().find(|step| step.key == *key)
    }

    /// Whether it has anything to say about this model.
    pub fn applies_to(&self, model: &Model) -> bool {
        self.positions.iter().any(|position| position.is_external() || model.has(*position))
    }

    /// The steps that open an interlock's protection.
    pub fn defeating_steps(&self) -> impl Iterator<Item = &Step> {
        self.steps.iter().filter(|step| step.interlock_defeat.is_some())
    }

    /// Everything that is wrong with the procedure, each with a JSON Pointer into it.
    pub fn validate(&self) -> Result<(), Vec<Violation>> {
        validation::validate(self)
    }
}
