//! Mean time between failures at a constant rate.

use serde::{Deserialize, Serialize};

use super::{ReliabilityError, check_confidence};
use crate::probability::chi_squared_quantile;

/// What ended the observation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ended {
    /// At a time fixed beforehand: the rule for records of a service.
    Time,
    /// At the last failure counted.
    Failure,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MeanTime {
    /// None without failures.
    pub estimate: Option<f64>,
    pub lower: f64,
    /// None without failures; `lower` is then one-sided with all of the confidence.
    pub upper: Option<f64>,
    pub confidence: f64,
    pub failures: u32,
    pub total_time: f64,
}

/// Mean time between failures with exact limits, valid only while the rate is constant (ask
/// [`crate::repeats::trend::laplace`] first).
///
/// Time-ended: 2T/χ²(1 − α/2; 2n + 2) to 2T/χ²(α/2; 2n); failure-ended: 2n degrees for both. Without a
/// failure the lower limit is one-sided, T/−ln(1 − confidence): T/2.996 at 95 %.
/// Source: NIST/SEMATECH e-Handbook 8.4.5.1; IEC 60605-4.
///
/// ```
/// use domain::reliability::mean_time::{mean_time_between_failures, Ended};
/// let limits = mean_time_between_failures(800.0, 2, 0.90, Ended::Time)?;
/// assert!((limits.lower - 127.069).abs() < 5e-4 && (limits.upper.unwrap() - 2251.229).abs() < 5e-4);
/// # Ok::<(), domain::reliability::ReliabilityError>(())
/// ```
pub fn mean_time_between_failures(
    total_time: f64,
    failures: u32,
    confidence: f64,
    ended: Ended,
) -> Result<MeanTime, ReliabilityError> {
    check_confidence(confidence)?;
    if !(total_time.is_finite() && total_time > 0.0) {
        let (name, allowed) = ("the total time", "a finite number above zero");
        return Err(ReliabilityError::Parameter { name, allowed, actual: total_time });
    }
    if failures == 0 && ended == Ended::Failure {
        let what = "failures, where one ended the observation";
        return Err(ReliabilityError::TooFew { what, needed: 1, actual: 0 });
    }
    let n = f64::from(failures);
    let limit = |degrees, p| 2.0 * total_time / chi_squared_quantile(degrees, p);
    let degrees = if ended == Ended::Time { 2.0 * n + 2.0 } else { 2.0 * n };
    let tail = if failures == 0 { 1.0 - confidence } else { 0.5 * (1.0 - confidence) };
    Ok(MeanTime {
        estimate: (failures > 0).then(|| total_time / n),
        lower: limit(degrees, 1.0 - tail),
        upper: (failures > 0).then(|| limit(2.0 * n, tail)),
        confidence,
        failures,
        total_time,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bad_input_is_an_error() {
        assert!(mean_time_between_failures(0.0, 1, 0.9, Ended::Time).is_err());
        assert!(mean_time_between_failures(f64::NAN, 1, 0.9, Ended::Time).is_err());
        assert!(mean_time_between_failures(10.0, 1, 1.0, Ended::Time).is_err());
        assert!(mean_time_between_failures(10.0, 0, 0.9, Ended::Failure).is_err());
    }
}
