//! Lives as a Weibull distribution: one shape that says whether parts wear, fail by chance or settle.

use serde::{Deserialize, Serialize};

use super::shape_likelihood::{ShapeLikelihood, merged};
use super::{Life, ReliabilityError, check_confidence};
use crate::probability::{chi_squared_quantile, gamma_tails, increasing_root};

/// The least number of failures from which a shape is estimated.
pub const LEAST_FAILURES: u32 = 3;

/// S(t) = exp(−(t/η)^β).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Weibull {
    /// β: above 1 parts wear, at 1 they fail by chance, below 1 the weak ones go first.
    pub shape: f64,
    pub shape_lower: f64,
    pub shape_upper: f64,
    /// η, the age that 36.8 % outlive, in the unit of the lives.
    pub scale: f64,
    pub scale_lower: f64,
    pub scale_upper: f64,
    pub confidence: f64,
    pub log_likelihood: f64,
    pub n: u32,
    pub failures: u32,
}

impl Weibull {
    /// The share that outlives an age ≥ 0.
    pub fn survival(&self, age: f64) -> f64 {
        (-(age / self.scale).powf(self.shape)).exp()
    }

    /// η·Γ(1 + 1/β), the mean life.
    pub fn mean(&self) -> f64 {
        self.scale * libm::tgamma(1.0 + self.shape.recip())
    }

    /// ∫ S from 0 to `age`: the mean time in service of parts that are taken out at that age at the latest.
    pub fn mean_until(&self, age: f64) -> f64 {
        // ∫ exp(−(t/η)^β) dt = η·Γ(1 + 1/β)·P(1/β, (age/η)^β) by u = (t/η)^β.
        self.mean() * gamma_tails(self.shape.recip(), (age / self.scale).powf(self.shape)).lower
    }

    /// The age by which a share `p` in [0, 1) has failed.
    pub fn quantile(&self, p: f64) -> f64 {
        self.scale * (-(-p).ln_1p()).powf(self.shape.recip())
    }
}

/// Fits by maximum likelihood, conditional on the ages at entry, with profile likelihood limits; at
/// least [`LEAST_FAILURES`] failures, not all at one age.
///
/// Source: Lawless, Statistical Models and Methods for Lifetime Data, chapter 5; Meeker and Escobar,
/// Statistical Methods for Reliability Data, chapters 8 and 11.
pub fn weibull(lives: &[Life], confidence: f64) -> Result<Weibull, ReliabilityError> {
    check_confidence(confidence)?;
    Life::check(lives)?;
    let failures = lives.iter().filter(|life| life.failed).count() as u32;
    if failures < LEAST_FAILURES {
        return Err(ReliabilityError::TooFew { what: "failures", needed: LEAST_FAILURES, actual: failures });
    }
    let windows: Vec<_> = lives.iter().map(|life| (life.entry, life.exit)).collect();
    let failed = || lives.iter().filter(|life| life.failed).map(|life| life.exit);
    let likelihood = ShapeLikelihood::new(&windows, failed());
    let shape = likelihood.estimate().ok_or(ReliabilityError::NoShape)?;
    let (shape_lower, shape_upper) = likelihood.limits(shape, confidence);
    let scale = (-likelihood.log_scale(shape) / shape).exp();

    // The ages in units of η: the likelihood of another scale is then a matter of a factor near one.
    let relative = Relative {
        lives: merged(lives.iter().map(|life| (life.entry / scale, life.exit / scale))),
        log_ages: failed().map(|age| (age / scale).ln()).sum(),
        failures: f64::from(failures),
    };
    let (scale_lower, scale_upper) = relative.scale_limits(shape, confidence);
    let fitted = Weibull {
        shape,
        shape_lower,
        shape_upper,
        scale,
        scale_lower: scale * scale_lower,
        scale_upper: scale * scale_upper,
        confidence,
        log_likelihood: relative.log_likelihood(shape, 0.0) - f64::from(failures) * scale.ln(),
        n: lives.len() as u32,
        failures,
    };
    // Ages that all but coincide drive the shape beyond the range of numbers.
    let all = [fitted.shape_lower, shape, fitted.shape_upper, fitted.scale_lower, scale, fitted.scale_upper];
    let finite = all.iter().all(|value| value.is_finite() && *value > 0.0);
    if finite && fitted.log_likelihood.is_finite() { Ok(fitted) } else { Err(ReliabilityError::NoShape) }
}

/// Lives in units of the estimated scale.
struct Relative {
    /// From and to, and how many.
    lives: Vec<(f64, f64, f64)>,
    log_ages: f64,
    failures: f64,
}

impl Relative {
    /// With the scale at exp(`log_scale`) times the estimate.
    fn log_likelihood(&self, shape: f64, log_scale: f64) -> f64 {
        self.failures * (shape.ln() - shape * log_scale) + (shape - 1.0) * self.log_ages
            - self.hazards(shape, log_scale).0
    }

    /// Σ (b/η)^β − (a/η)^β and its first two derivatives in β.
    fn hazards(&self, shape: f64, log_scale: f64) -> (f64, f64, f64) {
        let part = |age: f64| {
            if age <= 0.0 {
                return (0.0, 0.0, 0.0);
            }
            let log = age.ln() - log_scale;
            let power = (shape * log).exp();
            (power, power * log, power * log * log)
        };
        self.lives.iter().fold((0.0, 0.0, 0.0), |sum, &(entry, exit, count)| {
            let (a, b) = (part(entry), part(exit));
            (sum.0 + count * (b.0 - a.0), sum.1 + count * (b.1 - a.1), sum.2 + count * (b.2 - a.2))
        })
    }

    /// The best shape for a scale, near a known one.
    fn shape_at(&self, log_scale: f64, near: f64) -> f64 {
        increasing_root(near.ln(), 0.1, |log| {
            let shape = log.exp();
            let (_, first, second) = self.hazards(shape, log_scale);
            let score = self.failures / shape + self.log_ages - self.failures * log_scale - first;
            (-score, (self.failures / (shape * shape) + second) * shape)
        })
        .exp()
    }

    /// Limits of the scale by the profile likelihood, in units of the estimate.
    fn scale_limits(&self, shape: f64, confidence: f64) -> (f64, f64) {
        let reach = chi_squared_quantile(1.0, confidence);
        let best = self.log_likelihood(shape, 0.0);
        let limit = |direction: f64| {
            let log = increasing_root(-1.0, 0.5, |log| {
                let log_scale = direction * log.exp();
                let shape = self.shape_at(log_scale, shape);
                let deviation = 2.0 * (best - self.log_likelihood(shape, log_scale));
                // At the best shape the likelihood changes with the scale alone.
                let slope = shape * (self.failures - self.hazards(shape, log_scale).0);
                (deviation - reach, 2.0 * slope * log_scale)
            });
            (direction * log.exp()).exp()
        };
        (limit(-1.0), limit(1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quantile_lives(shape: f64, scale: f64, n: u32) -> Vec<Life> {
        (0..n)
            .map(|i| scale * (-(1.0 - (f64::from(i) + 0.5) / f64::from(n)).ln()).powf(1.0 / shape))
            .map(|exit| Life { entry: 0.0, exit, failed: true })
            .collect()
    }

    #[test]
    fn a_late_start_of_the_records_does_not_bias_the_estimate() {
        let all = quantile_lives(2.0, 1000.0, 2000);
        let late: Vec<_> =
            all.iter().filter(|life| life.exit > 600.0).map(|life| Life { entry: 600.0, ..*life }).collect();
        let fit = weibull(&late, 0.95).unwrap();
        assert!((fit.shape - 2.0).abs() < 0.02 && (fit.scale - 1000.0).abs() < 5.0, "{fit:?}");
        let ignored: Vec<_> = late.iter().map(|life| Life { entry: 0.0, ..*life }).collect();
        assert!(weibull(&ignored, 0.95).unwrap().shape > 2.8, "ignoring the entry would bias it");
    }

    #[test]
    fn limits_hold_the_estimate_and_narrow_with_more_lives() {
        let (few, many) = (
            weibull(&quantile_lives(1.5, 10.0, 10), 0.9).unwrap(),
            weibull(&quantile_lives(1.5, 10.0, 1000), 0.9).unwrap(),
        );
        for fit in [few, many] {
            assert!(fit.shape_lower < fit.shape && fit.shape < fit.shape_upper, "{fit:?}");
            assert!(fit.scale_lower < fit.scale && fit.scale < fit.scale_upper, "{fit:?}");
        }
        assert!(many.shape_upper - many.shape_lower < 0.2 * (few.shape_upper - few.shape_lower));
        assert!((many.survival(many.quantile(0.1)) - 0.9).abs() < 1e-12);
    }

    #[test]
    fn at_the_border_it_is_an_error_or_a_number() {
        let life = |exit: f64| Life { entry: 0.0, exit, failed: true };
        for spread in [1e-3, 1e-6, 1e-9, 1e-12, 1e-15] {
            for scale in [1e-300, 1e-3, 1.0, 1e6, 1e300] {
                let lives = [1.0, 1.0 + spread, 1.0 + 2.0 * spread].map(|age| life(scale * age));
                if let Ok(fit) = weibull(&lives, 0.95) {
                    let all = [fit.shape_lower, fit.shape, fit.shape_upper, fit.scale_lower, fit.scale_upper];
                    assert!(all.iter().all(|value| value.is_finite() && *value > 0.0), "{fit:?}");
                    assert!(fit.scale_lower <= fit.scale && fit.scale <= fit.scale_upper, "{fit:?}");
                }
            }
        }
    }

    #[test]
    fn too_few_failures_or_all_at_one_age_are_errors() {
        let life = |exit, failed| Life { entry: 0.0, exit, failed };
        let two = [life(1.0, true), life(2.0, true), life(3.0, false)];
        assert!(matches!(weibull(&two, 0.9), Err(ReliabilityError::TooFew { needed: 3, actual: 2, .. })));
        assert_eq!(weibull(&[life(4.0, true); 5], 0.9), Err(ReliabilityError::NoShape));
    }
}
