//! How long parts live: from when a part was fitted, or came under our eyes, to its confirmed failure
//! or to when it was last known to work.

pub mod against_others;
pub mod age_replacement;
pub mod kaplan_meier;
pub mod lives;
pub mod log_rank;
pub mod mean_time;
mod risk_sets;
pub(crate) mod shape_likelihood;
pub mod study;
pub mod weibull;

use serde::{Deserialize, Serialize};

/// Why there is no answer: what was given is outside what the computation is valid for.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReliabilityError {
    #[error("{name} must be {allowed}, is {actual}")]
    Parameter { name: &'static str, allowed: &'static str, actual: f64 },
    #[error("needs at least {needed} {what}, has {actual}")]
    TooFew { what: &'static str, needed: u32, actual: u32 },
    #[error(
        "a life runs from a finite age of zero or more to a later one; number {index} from {entry} to {exit}"
    )]
    Life { index: usize, entry: f64, exit: f64 },
    #[error("the failures show no finite shape: they lie at one age, or fall off faster than any law allows")]
    NoShape,
}

/// One part's life as far as it was seen; ages in any one unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Life {
    /// Age at which its record began: zero, or later where the records start after it was fitted. Such
    /// a part is known only because it lived so long, and does not count before.
    pub entry: f64,
    /// Age at its failure, or when it was last known to work.
    pub exit: f64,
    pub failed: bool,
}

impl Life {
    fn check(lives: &[Self]) -> Result<(), ReliabilityError> {
        let sound = |life: &Self| life.entry >= 0.0 && life.entry < life.exit && life.exit.is_finite();
        match lives.iter().enumerate().find(|(_, life)| !sound(life)) {
            Some((index, &Self { entry, exit, .. })) => Err(ReliabilityError::Life { index, entry, exit }),
            None => Ok(()),
        }
    }
}

fn check_confidence(confidence: f64) -> Result<(), ReliabilityError> {
    if (0.5..=0.9999).contains(&confidence) {
        return Ok(());
    }
    Err(ReliabilityError::Parameter { name: "confidence", allowed: "from 0.5 to 0.9999", actual: confidence })
}
