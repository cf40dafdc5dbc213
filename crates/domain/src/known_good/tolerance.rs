//! Statistical tolerance intervals for a normal population, exact.
//!
//! Mean x̄ and standard deviation s of n readings, each of another unit, give limits x̄ ± k·s that hold
//! at least the share p (*coverage*) of all units, in a share C (*confidence*) of all such samples.
//!
//! Both factors are one integral over the sample's mean, x̄ = μ + σz/√n with z standard normal:
//!
//! C(k) = ∫ φ(z) P(χ²_ν ≥ ν (R(z/√n)/k)²) dz
//!
//! where R(x) is the half width, in σ, that covers p around μ + σx: one-sided R(x) = z_p − x (this is
//! the non-central t distribution, conditioned on its normal part); two-sided Φ(x + R) − Φ(x − R) = p.
//! Source: ISO 16269-6:2014; Krishnamoorthy and Mathew, Statistical Tolerance Regions, 2009, chapter 2.

use serde::{Deserialize, Serialize};

use super::{KnownGoodError, mean_and_deviation, require, require_spread};
use crate::probability::{
    chi_squared_quantile, gamma_density, gamma_tails, gauss_legendre, increasing_root, normal_cumulative,
    normal_density, normal_quantile,
};

/// On which side the interval is limited.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sides {
    /// From the lower limit upwards: low readings are bad.
    Lower,
    /// Up to the upper limit: high readings are bad.
    Upper,
    Both,
}

/// What an interval is to hold and how surely.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "AimAsStored")]
pub struct Aim {
    sides: Sides,
    coverage: f64,
    confidence: f64,
}

#[derive(Deserialize)]
struct AimAsStored {
    sides: Sides,
    coverage: f64,
    confidence: f64,
}

impl TryFrom<AimAsStored> for Aim {
    type Error = KnownGoodError;

    fn try_from(stored: AimAsStored) -> Result<Self, KnownGoodError> {
        Self::new(stored.sides, stored.coverage, stored.confidence)
    }
}

impl Aim {
    /// Coverage and confidence from 0.5 to 0.9999, else an error.
    pub fn new(sides: Sides, coverage: f64, confidence: f64) -> Result<Self, KnownGoodError> {
        let allowed = 0.5..=0.9999;
        if !allowed.contains(&coverage) {
            Err(KnownGoodError::Coverage(coverage))
        } else if !allowed.contains(&confidence) {
            Err(KnownGoodError::Confidence(confidence))
        } else {
            Ok(Self { sides, coverage, confidence })
        }
    }

    /// Coverage 99 %, confidence 95 %: at 95 % coverage more than half of all healthy calls of 15
    /// readings would show at least one as unusual, at 99 % one in seven.
    pub const fn usual(sides: Sides) -> Self {
        Self { sides, coverage: 0.99, confidence: 0.95 }
    }

    pub const fn sides(self) -> Sides {
        self.sides
    }

    pub const fn coverage(self) -> f64 {
        self.coverage
    }

    pub const fn confidence(self) -> f64 {
        self.confidence
    }
}

/// Limits on one side or both.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    pub lower: Option<f64>,
    pub upper: Option<f64>,
}

impl Limits {
    pub(crate) fn around(centre: f64, half_width: f64, sides: Sides) -> Self {
        Self {
            lower: (sides != Sides::Upper).then_some(centre - half_width),
            upper: (sides != Sides::Lower).then_some(centre + half_width),
        }
    }

    /// Both limits through a rising function, such as the way back from a scale.
    pub(crate) fn map(self, function: impl Fn(f64) -> f64) -> Self {
        Self { lower: self.lower.map(&function), upper: self.upper.map(&function) }
    }

    /// Whether a value lies within; its ends are within.
    pub fn contain(self, value: f64) -> bool {
        self.lower.is_none_or(|lower| value >= lower) && self.upper.is_none_or(|upper| value <= upper)
    }
}

/// A tolerance interval of a normal population, on the scale of the values it was made from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ToleranceInterval {
    pub limits: Limits,
    pub mean: f64,
    pub standard_deviation: f64,
    pub factor: f64,
    pub n: u32,
    pub aim: Aim,
}

/// The factor k of a sample of `n` ≥ 2, to a relative error of about 1e-12.
///
/// ```
/// use domain::known_good::tolerance::{factor, Aim, Sides};
/// let two_sided = factor(Aim::new(Sides::Both, 0.95, 0.95)?, 10)?;
/// assert!((two_sided - 3.3934294787).abs() < 1e-9); // exact; Howe's approximation gives 3.382
/// # Ok::<(), domain::known_good::KnownGoodError>(())
/// ```
pub fn factor(aim: Aim, n: u32) -> Result<f64, KnownGoodError> {
    if n < 2 {
        return Err(KnownGoodError::TooFew { what: "values", needed: 2, actual: n });
    }
    Ok(factor_of_estimates(aim, f64::from(n), f64::from(n) - 1.0))
}

/// The factor when the mean has variance σ²/`mean_n` and the variance `degrees` degrees of freedom, as
/// where they come from variance components. `mean_n` and `degrees` ≥ 1.
pub(crate) fn factor_of_estimates(aim: Aim, mean_n: f64, degrees: f64) -> f64 {
    let Aim { sides, coverage, confidence } = aim;
    let nodes = match sides {
        Sides::Both => two_sided_nodes(coverage, mean_n),
        Sides::Lower | Sides::Upper => one_sided_nodes(coverage, mean_n),
    };
    let shape = 0.5 * degrees;
    // Howe's approximation and its one-sided counterpart, good to a few per cent, to begin with.
    let spread = (degrees / chi_squared_quantile(degrees, 1.0 - confidence)).sqrt();
    let start = match sides {
        Sides::Both => -normal_quantile(0.5 * (1.0 - coverage)) * (1.0 + 1.0 / mean_n).sqrt() * spread,
        Sides::Lower | Sides::Upper => {
            -normal_quantile(1.0 - coverage) * spread - normal_quantile(1.0 - confidence) / mean_n.sqrt()
        }
    };
    let log = increasing_root(start.max(1e-3).ln(), 0.5, |log| {
        let scale = shape * (-2.0 * log).exp();
        let (mut missed, mut slope) = (0.0, 0.0);
        for (square, weight) in &nodes {
            let x = scale * square;
            if x > 0.0 {
                missed += weight * gamma_tails(shape, x).lower;
                slope += weight * gamma_density(shape, x) * 2.0 * x;
            }
        }
        ((1.0 - confidence) - missed, slope)
    });
    log.exp()
}

/// The tolerance interval of readings of n ≥ 2 units, one of each, on the scale on which they are normal.
///
/// ```
/// use domain::known_good::tolerance::{tolerance_interval, Aim, Sides};
/// let fill_times: Vec<f64> = [12.1, 12.9, 13.4, 12.6, 12.2, 13.0].iter().map(|t: &f64| t.ln()).collect();
/// let interval = tolerance_interval(&fill_times, Aim::usual(Sides::Upper))?;
/// assert!(interval.limits.lower.is_none() && interval.limits.upper.unwrap().exp() > 13.4);
/// assert!(tolerance_interval(&[2.5], Aim::usual(Sides::Both)).is_err());
/// # Ok::<(), domain::known_good::KnownGoodError>(())
/// ```
pub fn tolerance_interval(values: &[f64], aim: Aim) -> Result<ToleranceInterval, KnownGoodError> {
    require(values, 2, "values")?;
    let n = values.len() as u32;
    let (mean, standard_deviation) = mean_and_deviation(values);
    require_spread(values)?;
    let factor = factor(aim, n)?;
    let limits = Limits::around(mean, factor * standard_deviation, aim.sides);
    Ok(ToleranceInterval { limits, mean, standard_deviation, factor, n, aim })
}

/// Beyond this many standard deviations of the mean the normal density is below 1e-20.
const FARTHEST: f64 = 9.5;

/// R² and the weight φ(z)dz, where R > 0: z < z_p √n.
fn one_sided_nodes(coverage: f64, n: f64) -> Vec<(f64, f64)> {
    let z_p = -normal_quantile(1.0 - coverage);
    let root_n = n.sqrt();
    let end = (z_p * root_n).min(FARTHEST);
    gauss_legendre()
        .on(-FARTHEST, end)
        .map(|(z, weight)| ((z_p - z / root_n).powi(2), weight * normal_density(z)))
        .collect()
}

/// The integrand is even in z: twice the right half.
fn two_sided_nodes(coverage: f64, n: f64) -> Vec<(f64, f64)> {
    let root_n = n.sqrt();
    let mut half_width = -normal_quantile(0.5 * (1.0 - coverage));
    gauss_legendre()
        .on(0.0, FARTHEST)
        .map(|(z, weight)| {
            half_width = half_width_at(z / root_n, 1.0 - coverage, half_width);
            (half_width.powi(2), 2.0 * weight * normal_density(z))
        })
        .collect()
}

/// R with Φ(x − R) + Φ(−x − R) = `outside`.
fn half_width_at(x: f64, outside: f64, start: f64) -> f64 {
    increasing_root(start, 0.1, |r| {
        let tails = normal_cumulative(x - r) + normal_cumulative(-x - r);
        (outside - tails, normal_density(x - r) + normal_density(x + r))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn k(sides: Sides, coverage: f64, confidence: f64, n: u32) -> f64 {
        factor(Aim::new(sides, coverage, confidence).unwrap(), n).unwrap()
    }

    #[test]
    fn factors_printed_in_the_project_plan() {
        // Exact values, recomputed with scipy 1.17.1; printed to three decimals.
        let two_sided = [(5, 6.598), (10, 4.437), (20, 3.621), (30, 3.355), (50, 3.129), (100, 2.936)];
        for (n, expected) in two_sided {
            assert!((k(Sides::Both, 0.99, 0.95, n) - expected).abs() < 5.1e-4, "two-sided, n {n}");
        }
        let one_sided = [(5, 4.203), (10, 2.911), (20, 2.396), (30, 2.220), (50, 2.065), (100, 1.927)];
        for (n, expected) in one_sided {
            assert!((k(Sides::Upper, 0.95, 0.95, n) - expected).abs() < 5.1e-4, "one-sided, n {n}");
        }
    }

    #[test]
    fn bad_aims_and_samples_are_errors() {
        assert_eq!(Aim::new(Sides::Both, 1.0, 0.95), Err(KnownGoodError::Coverage(1.0)));
        assert!(matches!(Aim::new(Sides::Both, f64::NAN, 0.95), Err(KnownGoodError::Coverage(_))));
        assert_eq!(Aim::new(Sides::Both, 0.95, 0.2), Err(KnownGoodError::Confidence(0.2)));
        assert!(serde_json::from_str::<Aim>(r#"{"sides":"both","coverage":2,"confidence":0.9}"#).is_err());
        let aim = Aim::usual(Sides::Both);
        assert!(matches!(factor(aim, 1), Err(KnownGoodError::TooFew { needed: 2, actual: 1, .. })));
        assert!(matches!(tolerance_interval(&[], aim), Err(KnownGoodError::TooFew { .. })));
        let with_nan = tolerance_interval(&[1.0, f64::NAN, 2.0], aim);
        assert!(matches!(with_nan, Err(KnownGoodError::NotFinite { index: 1, .. })));
        assert_eq!(tolerance_interval(&[0.1; 12], aim), Err(KnownGoodError::NoSpread { n: 12 }));
    }

    #[test]
    fn the_factor_falls_to_the_normal_quantile_in_a_large_sample() {
        let mut last = f64::INFINITY;
        for n in [2, 3, 5, 10, 100, 10_000, 1_000_000] {
            let factor = k(Sides::Both, 0.99, 0.95, n);
            assert!(factor < last, "n {n}: {factor}");
            last = factor;
        }
        assert!((last - 2.5758293).abs() < 0.005, "{last}");
    }
}
