//! How long parts live: from when a part was fitted, or came under our eyes, to its confirmed failure
//! or to when it was last known to work.

pub mod kaplan_meier;
pub mod lives;
pub mod log_rank;
pub mod mean_time;
pub(crate) mod shape_likelihood;
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

    /// Whether it was watched at an age: from after its entry to its exit.
    fn at_risk(&self, age: f64) -> bool {
        self.entry < age && age <= self.exit
    }
}

fn check_confidence(confidence: f64) -> Result<(), ReliabilityError> {
    if (0.5..=0.9999).contains(&confidence) {
        return Ok(());
    }
    Err(ReliabilityError::Parameter { name: "confidence", allowed: "from 0.5 to 0.9999", actual: confidence })
}

/// The ages at which something failed, rising, each once.
fn failure_ages(lives: &[Life]) -> Vec<f64> {
    let mut ages: Vec<f64> = lives.iter().filter(|life| life.failed).map(|life| life.exit).collect();
    ages.sort_unstable_by(f64::total_cmp);
    ages.dedup();
    ages
}

/// Parts at risk at an age and those of them that failed at it. The age comes from [`failure_ages`].
fn at_age(lives: &[Life], age: f64) -> (u32, u32) {
    let under = lives.iter().filter(|life| life.at_risk(age));
    under.fold((0, 0), |(at_risk, failed), life| {
        (at_risk + 1, failed + u32::from(life.failed && life.exit.total_cmp(&age).is_eq()))
    })
}
