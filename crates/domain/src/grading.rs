//! From a raw reading to a verdict.
//!
//! Each reading is graded twice. *As found*: the raw value against the functional limit; does the
//! machine do its job in this kitchen? *At reference*: the value corrected to the model's reference
//! conditions; is the part healthy? A healthy valve on a low supply fails the first and passes the
//! second, and the verdict says so in words.
//!
//! Verdicts are a pure function of all evidence of an epoch: any order of arrival gives the same.
//! A prerequisite that failed or was not read makes a grading inconclusive with its reason, never
//! failed.
//!
//! The condition that is proposed for a position follows from one mapping, [`condition::propose`]; a
//! person sets it.

mod condition;
mod conformity;
mod correction;
mod evidence_index;
mod limit;
mod prerequisite;
mod reason;
mod reference;
mod said;
mod sentence;
mod series;
mod uncertainty;
mod verdict;

pub use condition::{ProposedCondition, propose};
pub use conformity::{Conformity, conformity, conformity_of_bound, probability_of_conformity};
pub use limit::{AppliedLimit, LimitSource};
pub use reason::Reason;
pub use reference::{HealthyReference, HealthyReferences, LearnedReferences, ReferenceSource};
pub use said::{PressureDuring, Said};
pub use series::{SeriesError, reduce};
pub use uncertainty::{Assessed, assess};
pub use verdict::{Comparison, Grader, Grading, NotTested, Verdict};

use crate::equipment::{FunctionalLimit, Model};
use crate::evidence::TestRun;
use crate::id::TestRunId;
use crate::procedure::{Procedure, ProcedureVersion};
use crate::quantity::{AsReadError, QuantityError};
use crate::text::Key;

/// Everything from which verdicts follow.
#[derive(Clone, Copy)]
pub struct GradingInput<'a> {
    pub model: &'a Model,
    /// Every version of every procedure that the runs name.
    pub procedures: &'a [Procedure],
    /// All runs of one appliance and order, of every epoch, superseded ones and retractions included.
    pub runs: &'a [TestRun],
    /// Runs of the kitchen's other machines, near in time. What they say of the building, its pressure and
    /// its voltage, counts here too, less sure, where the machine's own runs say nothing of it.
    pub site_runs: &'a [TestRun],
    pub epoch: u32,
    /// Limits of the appliance's own record; each goes before the model's.
    pub appliance_limits: &'a [FunctionalLimit],
    /// What was learned; the model's typical values stand behind it.
    pub references: &'a dyn HealthyReferences,
}

/// The verdicts of an epoch and the conditions that they propose.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Assessment {
    /// In the order in which the evidence was taken.
    pub verdicts: Vec<Verdict>,
    pub not_tested: Vec<NotTested>,
    /// One for each position of the model and each external one that was read.
    pub conditions: Vec<ProposedCondition>,
}

/// Data that were not checked before they came here.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GradingError {
    #[error("run {test_run} names {procedure}, which is not among the procedures given")]
    UnknownProcedure { test_run: TestRunId, procedure: ProcedureVersion },
    #[error("{procedure} has no step {step}: validate the run first")]
    UnknownStep { procedure: ProcedureVersion, step: Key },
    #[error("the reading of step {step} does not fit it: validate the run first")]
    ReadingDoesNotFit { step: Key },
    #[error("the reading of step {step} has no canonical value")]
    Reading { step: Key, source: AsReadError },
    #[error("the series of step {step} cannot be reduced")]
    Series { step: Key, source: SeriesError },
    #[error(
        "the limit or typical value of step {step} is not in a unit of its quantity: validate the model first"
    )]
    Limit { step: Key, source: QuantityError },
}

/// Grades all evidence of the epoch.
pub fn grade(input: &GradingInput<'_>) -> Result<Assessment, GradingError> {
    Grader::new(input)?.assess()
}

#[cfg(test)]
mod tests;
