//! Readings that lie far from the rest. They are flagged for a person to look at and stay in, until a
//! coded reason removes them: a rule that throws away what it does not expect makes every reference too narrow.

use serde::{Deserialize, Serialize};

use super::{KnownGoodError, require};

/// How far out a value is flagged, in robust standard deviations.
pub const FLAG_BEYOND: f64 = 5.0;

/// A median and a spread that a few wild values cannot move.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RobustCentre {
    pub median: f64,
    /// Median absolute deviation × 1.4826, which estimates σ of a normal population. Zero where more
    /// than half of the values are equal.
    pub spread: f64,
}

impl RobustCentre {
    /// The robust standard score; none where the spread is zero, so that nothing can be said.
    pub fn score(self, value: f64) -> Option<f64> {
        (self.spread > 0.0).then(|| (value - self.median) / self.spread)
    }

    pub fn flags(self, value: f64) -> bool {
        self.score(value).is_some_and(|score| score.abs() > FLAG_BEYOND)
    }
}

/// Median and scaled median absolute deviation of n ≥ 3 values, on the scale on which they are normal.
///
/// 1.4826 = 1/Φ⁻¹(3/4). Source: Iglewicz and Hoaglin, How to Detect and Handle Outliers, 1993; the
/// limit of 5 is the project's own.
///
/// ```
/// use domain::known_good::screening::robust_centre;
/// let centre = robust_centre(&[2.0, 2.1, 1.9, 2.0, 2.2, 9.0])?;
/// assert_eq!(centre.median, 2.05);
/// assert!(centre.flags(9.0) && !centre.flags(2.2));
/// # Ok::<(), domain::known_good::KnownGoodError>(())
/// ```
pub fn robust_centre(values: &[f64]) -> Result<RobustCentre, KnownGoodError> {
    require(values, 3, "values")?;
    let mut work = values.to_vec();
    let median = median(&mut work);
    for value in &mut work {
        *value = (*value - median).abs();
    }
    Ok(RobustCentre { median, spread: 1.482602218505602 * self::median(&mut work) })
}

/// The median; reorders the values, of which there is at least one.
fn median(values: &mut [f64]) -> f64 {
    let half = values.len() / 2;
    let is_odd = values.len() % 2 == 1;
    let (below, &mut upper, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    if is_odd {
        return upper;
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    0.5 * (lower + upper)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_values_give_no_score_and_flag_nothing() {
        let centre = robust_centre(&[3.0, 3.0, 3.0, 3.0, 8.0]).unwrap();
        assert_eq!((centre.score(8.0), centre.flags(8.0)), (None, false));
        assert!(matches!(robust_centre(&[1.0, 2.0]), Err(KnownGoodError::TooFew { .. })));
    }

    #[test]
    fn the_spread_of_normal_quantiles_is_sigma() {
        let values: Vec<f64> = (1..1000)
            .map(|i| 7.0 + 2.0 * crate::probability::normal_quantile(f64::from(i) / 1000.0))
            .collect();
        let centre = robust_centre(&values).unwrap();
        assert!((centre.median - 7.0).abs() < 1e-9 && (centre.spread - 2.0).abs() < 0.01, "{centre:?}");
    }
}
