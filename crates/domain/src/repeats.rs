//! Repeat failures: which faults come back, how often against chance and against the fleet, whether
//! it is getting worse.
//!
//! A *repeat* is the same fault of the same appliance confirmed again after its **verified**
//! restoration; a *recurring fault* is the kitchen's view: repeats, and the same fault on several of
//! its appliances. Whether it was anybody's labour (a *callback*) is for a person to say, never for
//! this computation.
//!
//! [`counting`] counts; [`within`] gives the share repeated within a time at risk, and what chance alone
//! would give; [`rate`], [`prior`] and [`listing`] set a kitchen against the fleet, [`fleet`] all of them; [`trend`] and
//! [`cumulative`] say whether it gets worse; [`causes`] tells which causes stand out.

pub mod causes;
pub mod counting;
pub mod cumulative;
pub mod fleet;
pub mod listing;
pub mod prior;
pub mod rate;
pub mod trend;
pub mod within;

/// The lengths, in days, of the windows in which repeats are counted.
pub const WINDOW_DAYS: [u16; 4] = [7, 30, 90, 365];

/// Why there is no answer: what was given is outside what the computation is valid for.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RepeatsError {
    #[error("{name} must be {allowed}, is {actual}")]
    Parameter { name: &'static str, allowed: &'static str, actual: f64 },
    #[error("needs at least {needed} {what}, has {actual}")]
    TooFew { what: &'static str, needed: u32, actual: u32 },
    #[error("counts {actual} {what}, more than {} can be worked with", u32::MAX)]
    TooMany { what: &'static str, actual: u64 },
    #[error("an observation runs from a finite time to a later one; number {index} runs from {from} to {to}")]
    Window { index: usize, from: f64, to: f64 },
    #[error("an event lies within its observation, {from} to {to}; one of number {index} is at {at}")]
    Outside { index: usize, from: f64, to: f64, at: f64 },
    #[error(
        "{what} did not settle in {rounds} rounds: {shortfall} nat are left to the best; look for cells that are out of proportion"
    )]
    NotSettled { what: &'static str, rounds: u32, shortfall: f64 },
    #[error("the events show no finite shape: they lie at one end of what was observed")]
    NoShape,
}

/// One machine watched from one time to another, with its events; times in any one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Observed {
    pub from: f64,
    pub to: f64,
    pub events: Vec<f64>,
}

impl Observed {
    /// Refuses windows that end before they begin and events outside them, NaN included.
    fn check(all: &[Self]) -> Result<(), RepeatsError> {
        for (index, &Self { from, to, ref events }) in all.iter().enumerate() {
            if !(from.is_finite() && to.is_finite() && from < to) {
                return Err(RepeatsError::Window { index, from, to });
            }
            if let Some(&at) = events.iter().find(|at| !(**at >= from && **at <= to)) {
                return Err(RepeatsError::Outside { index, from, to, at });
            }
        }
        Ok(())
    }
}

/// Refuses a confidence that is no share, or of no use.
fn check_confidence(confidence: f64) -> Result<(), RepeatsError> {
    if (0.5..=0.9999).contains(&confidence) {
        return Ok(());
    }
    Err(RepeatsError::Parameter { name: "confidence", allowed: "from 0.5 to 0.9999", actual: confidence })
}
