//! Whether failures come faster: Laplace's test and the power-law process.

use serde::{Deserialize, Serialize};

use super::{Observed, RepeatsError, check_confidence};
use crate::probability::{chi_squared_quantile, gamma_tails, normal_cumulative};
use crate::reliability::shape_likelihood::ShapeLikelihood;

/// The least number of events for which the statistic is near enough to normal.
pub const LEAST_EVENTS: u32 = 4;

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Laplace {
    /// Standard normal if the rate is constant; above zero the events come late: it is getting worse.
    pub statistic: f64,
    /// Two-sided.
    pub p: f64,
    pub n: u32,
}

/// Laplace's test for a constant rate, time-terminated, over one machine or several together:
/// U = Σ (t − (a + b)/2) / sqrt(Σ n (b − a)²/12), events at t in windows [a, b]; n ≥ 4 in all.
///
/// With failure-terminated data end the window at the last event and leave that event out.
/// Source: Cox and Lewis, The Statistical Analysis of Series of Events, 1966; NIST/SEMATECH e-Handbook 8.2.3.4.
///
/// ```
/// use domain::repeats::{trend::laplace, Observed};
/// let late = Observed { from: 0.0, to: 10.0, events: vec![7.0, 8.0, 9.0, 9.5] };
/// assert!(laplace(&[late])?.statistic > 2.0);
/// # Ok::<(), domain::repeats::RepeatsError>(())
/// ```
pub fn laplace(observed: &[Observed]) -> Result<Laplace, RepeatsError> {
    let n = count(observed)?;
    let (mut late, mut variance) = (0.0, 0.0);
    for Observed { from, to, events } in observed {
        let middle = 0.5 * (from + to);
        late += events.iter().map(|at| at - middle).sum::<f64>();
        variance += events.len() as f64 * (to - from).powi(2) / 12.0;
    }
    let statistic = late / variance.sqrt();
    Ok(Laplace { statistic, p: 2.0 * normal_cumulative(-statistic.abs()), n })
}

/// A process of intensity λβt^(β−1), t the age since installation. β > 1: it wears; β < 1: it settles.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PowerLaw {
    /// β, by plain maximum likelihood.
    pub shape: f64,
    pub shape_lower: f64,
    pub shape_upper: f64,
    pub confidence: f64,
    /// Natural logarithm of λ, in the unit of the ages to the power −β.
    pub log_scale: f64,
    /// β less its bias, (n − 1)/n·β; where every machine is observed from age 0.
    pub shape_unbiased: Option<f64>,
    /// Probability, if the rate is constant, of a β further from 1 (two-sided: the smaller tail doubled).
    pub p: f64,
    pub n: u32,
}

impl PowerLaw {
    /// Events per unit of time of one machine at this age (above zero).
    pub fn intensity(&self, age: f64) -> f64 {
        (self.log_scale + self.shape.ln() + (self.shape - 1.0) * age.ln()).exp()
    }
}

/// Fits a power law to machines observed from age `from` ≥ 0 to age `to` (time-ended), n ≥ 4 events in all.
///
/// The likelihood is conditional on the age at entry, so records that begin late do no harm:
/// ln L = n ln λ + n ln β + (β − 1) Σ ln t − λ Σ (b^β − a^β). Limits of β: exact, 2nβ/β̂ ~ χ²(2n), where
/// every machine is observed from age 0 to one and the same age; else from the profile likelihood. With
/// failure-terminated data β̂ is the same plain estimate and the limits are approximate.
/// Source: Crow, 1974; MIL-HDBK-189 (1981), appendix C; Rigdon and Basu, 2000.
pub fn power_law(observed: &[Observed], confidence: f64) -> Result<PowerLaw, RepeatsError> {
    check_confidence(confidence)?;
    let n = count(observed)?;
    if let Some((index, first)) = observed.iter().enumerate().find(|(_, machine)| machine.from < 0.0) {
        return Err(RepeatsError::Window { index, from: first.from, to: first.to });
    }
    if observed.iter().flat_map(|machine| &machine.events).any(|at| *at <= 0.0) {
        let (name, allowed) = ("the age at an event", "above zero");
        return Err(RepeatsError::Parameter { name, allowed, actual: 0.0 });
    }
    let windows: Vec<_> = observed.iter().map(|machine| (machine.from, machine.to)).collect();
    let likelihood =
        ShapeLikelihood::new(&windows, observed.iter().flat_map(|machine| machine.events.iter().copied()));
    let shape = likelihood.estimate().ok_or(RepeatsError::NoShape)?;

    let longest = windows.iter().map(|window| window.1).fold(0.0, f64::max);
    let exact = windows.iter().all(|(from, to)| *from <= 0.0 && *to >= longest);
    let (shape_lower, shape_upper, p) = if exact {
        let (tail, degrees) = (0.5 * (1.0 - confidence), 2.0 * f64::from(n));
        let limit = |p| shape * chi_squared_quantile(degrees, p) / degrees;
        let tails = gamma_tails(f64::from(n), f64::from(n) / shape);
        (limit(tail), limit(1.0 - tail), (2.0 * tails.lower.min(tails.upper)).min(1.0))
    } else {
        let (lower, upper) = likelihood.limits(shape, confidence);
        (lower, upper, likelihood.deviation_p(shape, 1.0))
    };
    let from_new = observed.iter().all(|machine| machine.from <= 0.0);
    Ok(PowerLaw {
        shape,
        shape_lower,
        shape_upper,
        confidence,
        log_scale: likelihood.log_scale(shape),
        shape_unbiased: from_new.then(|| (f64::from(n) - 1.0) / f64::from(n) * shape),
        p,
        n,
    })
}

/// Events of all machines, after checking them.
fn count(observed: &[Observed]) -> Result<u32, RepeatsError> {
    Observed::check(observed)?;
    let n = observed.iter().map(|machine| machine.events.len()).sum::<usize>() as u32;
    if n < LEAST_EVENTS {
        return Err(RepeatsError::TooFew { what: "events", needed: LEAST_EVENTS, actual: n });
    }
    Ok(n)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(from: f64, to: f64, events: &[f64]) -> [Observed; 1] {
        [Observed { from, to, events: events.to_vec() }]
    }

    #[test]
    fn two_like_machines_give_the_estimate_of_one_with_more_certainty() {
        let events = [40.0, 300.0, 500.0, 900.0, 950.0];
        let single = power_law(&one(0.0, 1000.0, &events), 0.9).unwrap();
        let twice = [one(0.0, 1000.0, &events), one(0.0, 1000.0, &events)].concat();
        let double = power_law(&twice, 0.9).unwrap();
        assert!(
            (single.shape - double.shape).abs() < 1e-12 && (single.log_scale - double.log_scale).abs() < 1e-9
        );
        assert!(double.shape_lower > single.shape_lower && double.shape_upper < single.shape_upper);
        let pooled = laplace(&twice).unwrap().statistic;
        assert!(
            (pooled - 2.0_f64.sqrt() * laplace(&one(0.0, 1000.0, &events)).unwrap().statistic).abs() < 1e-12
        );
    }

    /// Quantiles of a process with β = 2 between ages 500 and 1000: the score is nearly zero at 2.
    #[test]
    fn a_late_start_of_the_records_does_not_bias_the_shape() {
        let events: Vec<f64> =
            (0..400).map(|i| (0.25 + 0.75 * (f64::from(i) + 0.5) / 400.0).sqrt() * 1000.0).collect();
        let fit = power_law(&one(500.0, 1000.0, &events), 0.95).unwrap();
        assert!((fit.shape - 2.0).abs() < 0.01, "{fit:?}");
        assert!(fit.shape_lower < 2.0 && fit.shape_upper > 2.0 && fit.shape_unbiased.is_none());
        // 400 events, 0.75 of what λt² gives by age 1000.
        assert!(
            (fit.intensity(1000.0) - 2.0 * 400.0 / 0.75 / 1000.0).abs() < 0.01,
            "{}",
            fit.intensity(1000.0)
        );
        let from_zero: Vec<f64> = events.iter().map(|at| at - 500.0).collect();
        assert!(power_law(&one(0.0, 500.0, &from_zero), 0.95).unwrap().shape < 1.3);
    }

    #[test]
    fn profile_limits_are_near_the_exact_ones() {
        let events: Vec<f64> = (1..=30).map(|i| f64::from(i) * 33.0).collect();
        let exact = power_law(&one(0.0, 1000.0, &events), 0.9).unwrap();
        let profile = power_law(&one(1e-9, 1000.0, &events), 0.9).unwrap();
        assert!((exact.shape - profile.shape).abs() < 1e-6);
        assert!((exact.shape_lower / profile.shape_lower - 1.0).abs() < 0.03, "{exact:?} {profile:?}");
        assert!((exact.shape_upper / profile.shape_upper - 1.0).abs() < 0.03);
    }

    #[test]
    fn bad_input_is_an_error() {
        let few = one(0.0, 10.0, &[1.0, 2.0, 3.0]);
        assert!(matches!(laplace(&few), Err(RepeatsError::TooFew { needed: 4, actual: 3, .. })));
        assert!(matches!(laplace(&one(5.0, 5.0, &[])), Err(RepeatsError::Window { .. })));
        let outside = one(0.0, 10.0, &[1.0, 2.0, 3.0, 10.5]);
        assert!(matches!(laplace(&outside), Err(RepeatsError::Outside { index: 0, .. })));
        assert!(laplace(&one(0.0, 10.0, &[1.0, f64::NAN, 3.0, 4.0])).is_err());
        assert!(power_law(&one(-1.0, 10.0, &[1.0, 2.0, 3.0, 4.0]), 0.9).is_err());
        assert!(power_law(&one(0.0, 10.0, &[0.0, 2.0, 3.0, 4.0]), 0.9).is_err());
        assert!(power_law(&one(0.0, 10.0, &[1.0, 2.0, 3.0, 4.0]), 0.1).is_err());
        assert!(power_law(&one(0.0, 10.0, &[10.0; 4]), 0.9).is_err(), "no finite estimate");
        assert!(power_law(&one(5.0, 10.0, &[5.0; 4]), 0.9).is_err(), "no estimate above zero");
    }
}
