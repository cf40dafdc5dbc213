//! Known-good references: what a healthy machine reads, learned from verified-good readings, and
//! whether one machine drifts away from its own past.
//!
//! A reading is *known good* if the **other** tests and the full cycle then passed and no corrective
//! call came for 30 days; never because it lay inside its own interval, which would teach the interval
//! to shrink ([`selection`]). From one such reading per unit comes a statistical tolerance interval for
//! the next unit's reading ([`fleet`], [`tolerance`], [`distribution_free`], [`variance_components`]);
//! from several readings of one unit its own reference ([`own`]) and its drift charts ([`drift`]).
//! [`job`] tells what the grading of one job says of its readings; [`learned`] is what is kept.

pub mod agreement;
pub mod distribution_free;
pub mod drift;
pub mod fleet;
pub mod job;
pub mod lasting_drift;
pub mod learned;
pub mod normality;
pub mod own;
pub mod screening;
pub mod selection;
pub mod tolerance;
pub mod variance_components;

use crate::quantity::Scale;

/// Why there is no answer: what was given is outside what the computation is valid for.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum KnownGoodError {
    #[error("coverage must be from 0.5 to 0.9999, is {0}")]
    Coverage(f64),
    #[error("confidence must be from 0.5 to 0.9999, is {0}")]
    Confidence(f64),
    #[error("needs at least {needed} {what}, has {actual}")]
    TooFew { what: &'static str, needed: u32, actual: u32 },
    #[error("every value must be a finite number; value {index} (counted from 0) is {value}")]
    NotFinite { index: usize, value: f64 },
    #[error("a value on the logarithmic scale must be above zero; value {index} (counted from 0) is {value}")]
    NotPositive { index: usize, value: f64 },
    #[error("all {n} values are equal: the instrument is too coarse to show a spread")]
    NoSpread { n: u32 },
    #[error("{name} must be {allowed}, is {actual}")]
    Parameter { name: &'static str, allowed: &'static str, actual: f64 },
}

/// The values on the scale on which their spread is symmetric: as they are, or their logarithms.
pub fn to_scale(values: &[f64], scale: Scale) -> Result<Vec<f64>, KnownGoodError> {
    values
        .iter()
        .enumerate()
        .map(|(index, &value)| match scale {
            _ if !value.is_finite() => Err(KnownGoodError::NotFinite { index, value }),
            Scale::Logarithmic if value <= 0.0 => Err(KnownGoodError::NotPositive { index, value }),
            Scale::Logarithmic => Ok(value.ln()),
            Scale::Linear => Ok(value),
        })
        .collect()
}

/// The way back from the scale.
pub fn from_scale(value: f64, scale: Scale) -> f64 {
    match scale {
        Scale::Logarithmic => value.exp(),
        Scale::Linear => value,
    }
}

/// Mean and standard deviation (n − 1), in two passes so that close values do not cancel.
pub(crate) fn mean_and_deviation(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (mean, (squares / (n - 1.0)).sqrt())
}

/// Refuses values that are not finite.
pub(crate) fn require_finite(values: &[f64]) -> Result<(), KnownGoodError> {
    match values.iter().position(|value| !value.is_finite()) {
        Some(index) => Err(KnownGoodError::NotFinite { index, value: values[index] }),
        None => Ok(()),
    }
}

/// Refuses fewer values than needed, and values that are not finite.
pub(crate) fn require(values: &[f64], needed: u32, what: &'static str) -> Result<(), KnownGoodError> {
    if (values.len() as u64) < u64::from(needed) {
        return Err(KnownGoodError::TooFew { what, needed, actual: values.len() as u32 });
    }
    require_finite(values)
}

/// Refuses values that are all equal, of which the computed deviation need not be exactly zero.
#[expect(clippy::float_cmp, reason = "equal readings are equal to the bit")]
pub(crate) fn require_spread(values: &[f64]) -> Result<(), KnownGoodError> {
    if values.iter().all(|value| *value == values[0]) {
        return Err(KnownGoodError::NoSpread { n: values.len() as u32 });
    }
    Ok(())
}
