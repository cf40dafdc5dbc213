//! A machine's own reference: where its next reading should lie if it is as it was when it was good.

use serde::{Deserialize, Serialize};

use super::tolerance::{Limits, Sides};
use super::variance_components::PooledSpread;
use super::{KnownGoodError, from_scale, require};
use crate::quantity::Scale;

/// The pooled spread must rest on this many degrees of freedom, so that the normal 1.96 in place of
/// Student's t (2.04 at 30) narrows the interval by no more than four per cent.
pub const LEAST_DEGREES: u32 = 30;

/// The quantile of the normal distribution for 95 % on both sides.
const NORMAL_975: f64 = 1.959963984540054;

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OwnReference {
    /// In the unit of the readings.
    pub limits: Limits,
    /// Mean of the unit's verified-good readings, in their unit (geometric on the logarithmic scale).
    pub centre: f64,
    pub n: u32,
    /// Share of good readings that such an interval holds.
    pub coverage: f64,
    pub scale: Scale,
    pub within: PooledSpread,
}

/// ȳ ± 1.96·s_w·sqrt(1 + 1/n) for the next reading of a unit with n ≥ 1 verified-good readings, s_w the
/// spread within units, pooled over the model. The limits come back in the unit of the readings.
///
/// Readings in their unit; `within` on the scale. Fewer than [`LEAST_DEGREES`] of freedom are an error.
/// Source: prediction interval for one further observation (Hahn and Meeker, Statistical Intervals, 1991,
/// section 4.7), with the pooled spread taken as known.
///
/// ```
/// use domain::known_good::{own::own_reference, tolerance::Sides, variance_components::PooledSpread};
/// use domain::quantity::Scale;
/// let within = PooledSpread { standard_deviation: 0.04, degrees: 120, units: 60 };
/// let own = own_reference(&[12.5, 12.9], within, Scale::Logarithmic, Sides::Upper)?;
/// // ln(sqrt(12.5 × 12.9)) + 1.96 × 0.04 × sqrt(1.5)
/// assert!((own.limits.upper.unwrap() - 13.98).abs() < 0.01);
/// # Ok::<(), domain::known_good::KnownGoodError>(())
/// ```
pub fn own_reference(
    readings: &[f64],
    within: PooledSpread,
    scale: Scale,
    sides: Sides,
) -> Result<OwnReference, KnownGoodError> {
    require(readings, 1, "verified-good readings of the unit")?;
    if within.degrees < LEAST_DEGREES {
        let what = "degrees of freedom of the spread within units";
        return Err(KnownGoodError::TooFew { what, needed: LEAST_DEGREES, actual: within.degrees });
    }
    if !(within.standard_deviation.is_finite() && within.standard_deviation > 0.0) {
        let (name, allowed) = ("the spread within units", "a finite number above zero");
        return Err(KnownGoodError::Parameter { name, allowed, actual: within.standard_deviation });
    }
    let values = super::to_scale(readings, scale)?;
    let n = values.len() as f64;
    let centre = values.iter().sum::<f64>() / n;
    let half_width = NORMAL_975 * within.standard_deviation * (1.0 + 1.0 / n).sqrt();
    let on_scale = Limits::around(centre, half_width, sides);
    Ok(OwnReference {
        limits: on_scale.map(|limit| from_scale(limit, scale)),
        centre: from_scale(centre, scale),
        n: readings.len() as u32,
        coverage: if sides == Sides::Both { 0.95 } else { 0.975 },
        scale,
        within,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const WITHIN: PooledSpread = PooledSpread { standard_deviation: 0.5, degrees: 40, units: 20 };

    #[test]
    fn a_worked_interval_on_the_linear_scale() {
        let own = own_reference(&[9.0, 10.0, 11.0], WITHIN, Scale::Linear, Sides::Both).unwrap();
        let half = 1.959963984540054 * 0.5 * (4.0_f64 / 3.0).sqrt();
        assert!((own.limits.lower.unwrap() - (10.0 - half)).abs() < 1e-12);
        assert!((own.limits.upper.unwrap() - (10.0 + half)).abs() < 1e-12);
        assert_eq!((own.n, own.coverage), (3, 0.95));
    }

    #[test]
    fn a_thin_or_impossible_spread_is_an_error() {
        let thin = PooledSpread { degrees: 29, ..WITHIN };
        assert!(matches!(
            own_reference(&[1.0], thin, Scale::Linear, Sides::Both),
            Err(KnownGoodError::TooFew { needed: 30, actual: 29, .. })
        ));
        let zero = PooledSpread { standard_deviation: 0.0, ..WITHIN };
        assert!(matches!(
            own_reference(&[1.0], zero, Scale::Linear, Sides::Both),
            Err(KnownGoodError::Parameter { .. })
        ));
        let negative = own_reference(&[2.0, -1.0], WITHIN, Scale::Logarithmic, Sides::Both);
        assert_eq!(negative, Err(KnownGoodError::NotPositive { index: 1, value: -1.0 }));
        assert!(own_reference(&[], WITHIN, Scale::Linear, Sides::Both).is_err());
    }
}
