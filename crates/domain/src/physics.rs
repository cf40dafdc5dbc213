//! The physics of the wash circuit and of what serves it, as small pure functions. Each says its
//! source, its symbols and the range in which it holds; outside that range it returns an error or a
//! value flagged as doubtful, and never extrapolates in silence.
//!
//! ```text
//! supply ─ line ─(p_dyn)─ inlet strainer ─ valve strainer ─ fill valve ─▶ SUMP ─ wash pump ─ spray ─▶ CAVITY
//!                                                                          ▲                            │
//!                                                                          └────── return, delay τ ─────┘
//! ```

pub mod atmosphere;
pub mod choking;
pub mod circuit;
pub mod correction;
pub mod drain;
pub mod fill;
pub mod heating;
pub mod if97;
pub mod insulation;
pub mod liquid;
pub mod marked_value;
mod of_model;
pub mod platinum;
pub mod pump;
pub mod restriction;
pub mod saturation_index;
pub mod steam;
pub mod sump;
pub mod thermocouple;
pub mod winding;

use serde::{Deserialize, Serialize};

use crate::quantity::QuantityError;

/// What an observation says of a value: the value, or only that it was not reached before the
/// observation ended (a time-out, an overflowing bucket, "still full at the end").
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Observed<T> {
    Exactly(T),
    AtLeast(T),
}

impl<T: Copy> Observed<T> {
    /// The value, or the bound below which it does not lie.
    pub fn value(&self) -> T {
        match *self {
            Self::Exactly(value) | Self::AtLeast(value) => value,
        }
    }

    pub fn is_censored(&self) -> bool {
        matches!(self, Self::AtLeast(_))
    }
}

/// Why a computation has no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PhysicsError {
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    #[error("{what} must lie between {minimum} and {maximum} {unit}, not {value}")]
    OutOfRange { what: &'static str, value: f64, minimum: f64, maximum: f64, unit: &'static str },
    #[error("{what} must be greater than 0")]
    NotPositive { what: &'static str },
    #[error("the sump holds {start} L at the start, which must be less than the {full} L to which it fills")]
    AlreadyFull { start: f64, full: f64 },
    #[error("nothing flows, so it never ends; give a time-out to observe that")]
    NoFlow,
    #[error("a reading taken through a flow regulator says nothing of pressure and is not corrected for it")]
    Regulated,
    #[error("choked flow does not follow the pressure after the valve and is not corrected for it")]
    Choked,
    #[error(
        "the flow through the valve is not turbulent (valve Reynolds number {reynolds_number:.0} of at least 10000)"
    )]
    NotTurbulent { reynolds_number: f64 },
    #[error("of {power} W the loss takes {loss} W, so the temperature is not reached")]
    LossTakesThePower { power: f64, loss: f64 },
    #[error("{elements} equal elements do not make this heater")]
    ElementsDoNotFit { elements: u32 },
    #[error("the level comes to rest before it reaches {level} m, or moves the other way")]
    LevelNotReached { level: f64 },
    #[error("classes AA and A hold for probes with three or four wires, not with two")]
    ClassNeedsMoreWires,
    #[error("the solution did not reach its tolerance within {steps} steps; check the volumes and the delay")]
    NotConverged { steps: usize },
}

/// `value` if it lies in the closed range.
fn within(
    what: &'static str,
    value: f64,
    (minimum, maximum): (f64, f64),
    unit: &'static str,
) -> Result<f64, PhysicsError> {
    if (minimum..=maximum).contains(&value) {
        Ok(value)
    } else {
        Err(PhysicsError::OutOfRange { what, value, minimum, maximum, unit })
    }
}

/// `value` if it is greater than 0 and finite.
fn positive(what: &'static str, value: f64) -> Result<f64, PhysicsError> {
    if value > 0.0 && value.is_finite() { Ok(value) } else { Err(PhysicsError::NotPositive { what }) }
}
