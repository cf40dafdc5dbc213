//! Measures over many cases, each with its 95 % interval: percentiles of paired resamples of whole
//! cases (bootstrap, Efron 1979 [from memory]).

use domain::diagnosis::scores::{Calibration, calibration_equal_mass, calibration_slope};
use simulator::random::Random;

/// A measured value with the limits of its 95 % interval.
#[derive(Debug, Clone, Copy)]
pub struct Measured {
    pub value: f64,
    pub low: f64,
    pub high: f64,
}

const BINS: usize = 10;
const RESAMPLES: usize = 400;
/// Stream of the resampling; the cases take theirs from other seeds.
const STREAM: u64 = 0xB007;

/// Any function of the cases, which are given by their indices.
pub fn measure(n: usize, seed: u64, of: impl Fn(&[usize]) -> f64) -> Measured {
    let all: Vec<usize> = (0..n).collect();
    let mut random = Random::new(seed, STREAM);
    let mut drawn: Vec<f64> = (0..RESAMPLES)
        .map(|_| {
            let resample: Vec<usize> = (0..n).map(|_| random.below(n)).collect();
            of(&resample)
        })
        .filter(|value| value.is_finite())
        .collect();
    drawn.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let last = drawn.len().saturating_sub(1);
        drawn.get(((share * last as f64).round() as usize).min(last)).copied().unwrap_or(f64::NAN)
    };
    Measured { value: of(&all), low: at(0.025), high: at(0.975) }
}

/// Mean of one value per case.
pub fn mean(values: &[f64], seed: u64) -> Measured {
    measure(values.len(), seed, |cases| {
        cases.iter().map(|case| values[*case]).sum::<f64>() / cases.len().max(1) as f64
    })
}

/// Σ of one over Σ of the other.
pub fn ratio(over: &[f64], under: &[f64], seed: u64) -> Measured {
    measure(over.len(), seed, |cases| {
        let sum = |values: &[f64]| cases.iter().map(|case| values[*case]).sum::<f64>();
        sum(over) / sum(under)
    })
}

/// Probabilities of each case with what came true.
pub type Forecasts = Vec<Vec<(f64, bool)>>;

pub fn expected_calibration_error(forecasts: &Forecasts, seed: u64) -> Measured {
    measure(forecasts.len(), seed, |cases| calibration(&gathered(forecasts, cases)))
}

pub fn slope(forecasts: &Forecasts, seed: u64) -> Measured {
    measure(forecasts.len(), seed, |cases| calibration_slope(&gathered(forecasts, cases)).unwrap_or(f64::NAN))
}

pub fn reliability(forecasts: &Forecasts) -> Option<Calibration> {
    calibration_equal_mass(&forecasts.concat(), BINS)
}

fn gathered(forecasts: &Forecasts, cases: &[usize]) -> Vec<(f64, bool)> {
    cases.iter().flat_map(|case| forecasts[*case].iter().copied()).collect()
}

fn calibration(forecasts: &[(f64, bool)]) -> f64 {
    calibration_equal_mass(forecasts, BINS).map_or(f64::NAN, |calibration| calibration.expected_error)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_of_a_mean_is_that_of_the_normal_theory() {
        let values: Vec<f64> = (0..400).map(|index| f64::from(index % 2)).collect();
        let measured = mean(&values, 1);
        let half = 1.96 * (0.25_f64 / 400.0).sqrt();
        assert!((measured.value - 0.5).abs() < 1e-12);
        assert!((measured.low - (0.5 - half)).abs() < 0.01, "{measured:?}");
        assert!((measured.high - (0.5 + half)).abs() < 0.01, "{measured:?}");
    }

    #[test]
    fn a_ratio_is_of_sums_and_not_of_cases() {
        let measured = ratio(&[1.0, 9.0], &[10.0, 10.0], 1);
        assert!((measured.value - 0.5).abs() < 1e-12);
    }
}
