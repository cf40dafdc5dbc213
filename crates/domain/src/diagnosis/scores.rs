//! How good probabilities were, once the truth is known.
//!
//! Sources: Brier 1950; the expected calibration error of Naeini et al. 2015 and Guo et al. 2017;
//! calibration slope after Cox 1958 [all from memory]; checked against a general-purpose library.

use serde::{Deserialize, Serialize};

/// Least probability that a logarithm is taken of.
const LEAST: f64 = 1e-15;

/// Mean of (p − y)². `None` without cases, as for every score here.
///
/// ```
/// use domain::diagnosis::scores::brier;
/// assert!((brier(&[(0.1, false), (0.9, true), (0.8, true), (0.3, false)]).unwrap() - 0.0375).abs() < 1e-12);
/// assert_eq!(brier(&[]), None);
/// ```
pub fn brier(cases: &[(f64, bool)]) -> Option<f64> {
    mean(cases.iter().map(|(p, y)| (p - indicator(*y)).powi(2)))
}

/// Mean of −ln P(what came true), nat.
pub fn log_loss(cases: &[(f64, bool)]) -> Option<f64> {
    mean(cases.iter().map(|(p, y)| -if *y { *p } else { 1.0 - p }.max(LEAST).ln()))
}

/// Sum over classes of (p − y)², mean over cases; each case with the index of its true class.
pub fn brier_of_classes(cases: &[(Vec<f64>, usize)]) -> Option<f64> {
    mean(cases.iter().map(|(p, truth)| {
        p.iter().enumerate().map(|(class, p)| (p - indicator(class == *truth)).powi(2)).sum()
    }))
}

/// Mean of −ln P(true class), nat.
pub fn log_loss_of_classes(cases: &[(Vec<f64>, usize)]) -> Option<f64> {
    mean(cases.iter().map(|(p, truth)| -p.get(*truth).copied().unwrap_or(0.0).max(LEAST).ln()))
}

/// Share of cases whose true class is the most probable one, the first of equals.
pub fn accuracy_of_classes(cases: &[(Vec<f64>, usize)]) -> Option<f64> {
    mean(cases.iter().map(|(p, truth)| {
        let best = (0..p.len()).fold(0, |best, class| if p[class] > p[best] { class } else { best });
        indicator(best == *truth)
    }))
}

/// Probabilities against frequencies, in bins.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    pub bins: Vec<Bin>,
    /// Σ n_b/N · |mean y − mean p|.
    pub expected_error: f64,
    pub largest_error: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bin {
    pub count: usize,
    pub mean_probability: f64,
    pub frequency: f64,
}

/// Bins of one width; empty ones are left out.
pub fn calibration_equal_width(cases: &[(f64, bool)], bins: usize) -> Option<Calibration> {
    let bin_of = |p: f64| ((p * bins as f64) as usize).min(bins.saturating_sub(1));
    let groups: Vec<Vec<(f64, bool)>> =
        (0..bins).map(|bin| cases.iter().copied().filter(|(p, _)| bin_of(*p) == bin).collect()).collect();
    calibration(&groups)
}

/// Bins that hold equally many cases, by rising probability.
pub fn calibration_equal_mass(cases: &[(f64, bool)], bins: usize) -> Option<Calibration> {
    let mut sorted = cases.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let edge = |bin: usize| bin * sorted.len() / bins.max(1);
    let groups: Vec<Vec<(f64, bool)>> =
        (0..bins).map(|bin| sorted[edge(bin)..edge(bin + 1)].to_vec()).collect();
    calibration(&groups)
}

fn calibration(groups: &[Vec<(f64, bool)>]) -> Option<Calibration> {
    let total: usize = groups.iter().map(Vec::len).sum();
    let bins: Vec<Bin> = groups
        .iter()
        .filter_map(|group| {
            Some(Bin {
                count: group.len(),
                mean_probability: mean(group.iter().map(|(p, _)| *p))?,
                frequency: mean(group.iter().map(|(_, y)| indicator(*y)))?,
            })
        })
        .collect();
    if total == 0 {
        return None;
    }
    let error = |bin: &Bin| (bin.frequency - bin.mean_probability).abs();
    Some(Calibration {
        expected_error: bins.iter().map(|bin| bin.count as f64 / total as f64 * error(bin)).sum(),
        largest_error: bins.iter().map(error).fold(0.0, f64::max),
        bins,
    })
}

/// Slope of the logistic regression of what came true on the logit of its probability: 1 if
/// calibrated, less if the probabilities are too extreme. `None` if nothing or everything came true.
pub fn calibration_slope(cases: &[(f64, bool)]) -> Option<f64> {
    if cases.iter().all(|(_, y)| *y) || cases.iter().all(|(_, y)| !*y) {
        return None;
    }
    let points: Vec<(f64, f64)> = cases
        .iter()
        .map(|(p, y)| {
            let p = p.clamp(1e-9, 1.0 - 1e-9);
            ((p / (1.0 - p)).ln(), indicator(*y))
        })
        .collect();
    let (mut intercept, mut slope) = (0.0, 1.0);
    // Newton on a concave likelihood; a handful of steps does.
    for _ in 0..50 {
        let (mut g0, mut g1, mut h00, mut h01, mut h11) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (x, y) in &points {
            let fitted = 1.0 / (1.0 + (-(intercept + slope * x)).exp());
            let weight = fitted * (1.0 - fitted);
            g0 += y - fitted;
            g1 += (y - fitted) * x;
            h00 += weight;
            h01 += weight * x;
            h11 += weight * x * x;
        }
        let determinant = h00 * h11 - h01 * h01;
        if determinant <= 1e-12 * h00 * h11 {
            return None;
        }
        let (step0, step1) = ((h11 * g0 - h01 * g1) / determinant, (h00 * g1 - h01 * g0) / determinant);
        // A full step from forecasts that are far too sure would overshoot.
        let held = 1.0 / step0.abs().max(step1.abs()).max(1.0);
        intercept += held * step0;
        slope += held * step1;
        if step0.abs() + step1.abs() < 1e-10 {
            break;
        }
    }
    slope.is_finite().then_some(slope)
}

const fn indicator(value: bool) -> f64 {
    if value { 1.0 } else { 0.0 }
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (count, sum) = values.fold((0usize, 0.0), |(count, sum), value| (count + 1, sum + value));
    (count > 0).then(|| sum / count as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_calibrated_forecast_has_slope_one_and_no_error() {
        // Of 100 cases at p exactly 100·p came true.
        let cases: Vec<(f64, bool)> = [0.1, 0.3, 0.5, 0.8]
            .into_iter()
            .flat_map(|p| (0..100).map(move |case| (p, f64::from(case) < 100.0 * p - 0.5)))
            .collect();
        assert!((calibration_slope(&cases).unwrap() - 1.0).abs() < 1e-9);
        let calibration = calibration_equal_mass(&cases, 4).unwrap();
        assert!(calibration.expected_error < 1e-12, "{calibration:?}");
        // The same pushed to the extremes.
        let sure: Vec<(f64, bool)> =
            cases.iter().map(|(p, y)| (p * p / (p * p + (1.0 - p) * (1.0 - p)), *y)).collect();
        assert!((calibration_slope(&sure).unwrap() - 0.5).abs() < 1e-9);
        assert!(calibration_equal_mass(&sure, 4).unwrap().expected_error > 0.05);
    }

    #[test]
    fn forecasts_that_are_far_too_sure_have_a_slope_all_the_same() {
        let mut cases: Vec<(f64, bool)> = (0..2000).map(|case| (1e-8, case % 50 == 0)).collect();
        cases.extend((0..200).map(|case| (0.6, case % 2 == 0)));
        let slope = calibration_slope(&cases).unwrap();
        assert!((0.1..0.4).contains(&slope), "{slope}");
    }

    #[test]
    fn nothing_to_score_is_none() {
        assert_eq!(brier(&[]), None);
        assert_eq!(log_loss(&[]), None);
        assert_eq!(calibration_equal_mass(&[], 10), None);
        assert_eq!(calibration_slope(&[(0.4, true), (0.6, true)]), None);
    }
}
