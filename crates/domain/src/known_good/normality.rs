//! Whether the readings look normal on their scale. The test only warns: in a large fleet it sees the
//! rounding of the instrument, in a small one it sees nothing.

use serde::{Deserialize, Serialize};

use super::{KnownGoodError, mean_and_deviation, require, require_spread};
use crate::probability::normal_cumulative;

/// Below this probability the warning is given.
pub const WARN_BELOW: f64 = 0.05;

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Normality {
    /// Anderson–Darling A², not yet adjusted for n.
    pub statistic: f64,
    /// Probability of so large a statistic if the population is normal.
    pub p: f64,
    pub warning: bool,
}

/// Anderson–Darling test for a normal population of unknown mean and variance, n ≥ 8.
///
/// A² = −n − Σ (2i−1)(ln Φ(zᵢ) + ln(1 − Φ(z₍ₙ₊₁₋ᵢ₎)))/n, adjusted A²(1 + 0.75/n + 2.25/n²).
/// Source: D'Agostino and Stephens, Goodness-of-Fit Techniques, 1986, table 4.9 (p-value formulas).
pub fn anderson_darling(values: &[f64]) -> Result<Normality, KnownGoodError> {
    require(values, 8, "values")?;
    require_spread(values)?;
    let n = values.len() as f64;
    let (mean, deviation) = mean_and_deviation(values);
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    // The i-th term of Φ(z) and the (n+1−i)-th of 1 − Φ(z) meet in each value once.
    let sum: f64 = (1_u32..)
        .zip(&sorted)
        .map(|(i, value)| {
            let z = (value - mean) / deviation;
            let rank = 2.0 * f64::from(i) - 1.0;
            let tail = |z: f64| normal_cumulative(z).max(f64::MIN_POSITIVE).ln();
            rank * tail(z) + (2.0 * n - rank) * tail(-z)
        })
        .sum();
    let statistic = -n - sum / n;
    let p = probability(statistic * (1.0 + 0.75 / n + 2.25 / (n * n)));
    Ok(Normality { statistic, p, warning: p < WARN_BELOW })
}

fn probability(adjusted: f64) -> f64 {
    let a = adjusted.min(10.0); // the fitted parabola turns up again far beyond its range
    let p = if a >= 0.6 {
        (1.2937 - 5.709 * a + 0.0186 * a * a).exp()
    } else if a > 0.34 {
        (0.9177 - 4.279 * a - 1.38 * a * a).exp()
    } else if a > 0.2 {
        1.0 - (-8.318 + 42.796 * a - 59.938 * a * a).exp()
    } else {
        1.0 - (-13.436 + 101.14 * a - 223.73 * a * a).exp()
    };
    p.clamp(0.0, 1.0)
}
