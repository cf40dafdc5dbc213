//! The one likelihood behind two laws: a Weibull distribution of lives, ln(t/η)·β, and a power-law
//! process of failures. In both, n events at ages t of things watched from a to b have the log-likelihood
//! n ln λ + n ln β + (β − 1) Σ ln t − λ Σ (b^β − a^β), conditional on the ages at entry.

use crate::probability::{chi_squared_quantile, gamma_tails, increasing_root};

/// Shapes beyond these are no estimate but the sign that there is none.
const SHAPES: std::ops::RangeInclusive<f64> = 0.001..=1000.0;

/// Equal windows as one, with how many they are: ages in whole days of a large fleet are few.
pub(crate) fn merged(windows: impl Iterator<Item = (f64, f64)>) -> Vec<(f64, f64, f64)> {
    let mut windows: Vec<_> = windows.map(|(from, to)| (from, to, 1.0)).collect();
    windows.sort_unstable_by(|one, other| one.1.total_cmp(&other.1).then(one.0.total_cmp(&other.0)));
    windows.dedup_by(|next, kept| {
        let is_same = next.0.total_cmp(&kept.0).is_eq() && next.1.total_cmp(&kept.1).is_eq();
        kept.2 += if is_same { next.2 } else { 0.0 };
        is_same
    });
    windows
}

/// The profile likelihood of β, with ages in units of the longest so that no power overflows.
pub(crate) struct ShapeLikelihood {
    n: f64,
    /// Σ ln t over the events.
    log_ages: f64,
    /// From and to of each thing watched, and how many were.
    windows: Vec<(f64, f64, f64)>,
    longest: f64,
}

impl ShapeLikelihood {
    /// Ages above zero for events, windows of positive length.
    pub(crate) fn new(windows: &[(f64, f64)], events: impl Iterator<Item = f64>) -> Self {
        let longest = windows.iter().map(|window| window.1).fold(0.0, f64::max);
        let (mut n, mut log_ages) = (0.0, 0.0);
        for at in events {
            n += 1.0;
            log_ages += (at / longest).ln();
        }
        let windows = merged(windows.iter().map(|(from, to)| (from / longest, to / longest)));
        Self { n, log_ages, windows, longest }
    }

    /// The β of greatest likelihood, if there is one.
    pub(crate) fn estimate(&self) -> Option<f64> {
        let shape = increasing_root(0.0, 0.5, |log| self.falling_score(log.exp())).exp();
        SHAPES.contains(&shape).then_some(shape)
    }

    /// Twice the fall of the log-likelihood from its maximum at `shape`.
    pub(crate) fn deviation(&self, shape: f64, other: f64) -> f64 {
        2.0 * (self.profile(shape) - self.profile(other))
    }

    /// The probability of so great a deviation if β were `other`.
    pub(crate) fn deviation_p(&self, shape: f64, other: f64) -> f64 {
        gamma_tails(0.5, 0.5 * self.deviation(shape, other)).upper
    }

    /// Limits of β by the profile likelihood, χ² with one degree of freedom.
    pub(crate) fn limits(&self, shape: f64, confidence: f64) -> (f64, f64) {
        let reach = chi_squared_quantile(1.0, confidence);
        let limit = |direction: f64| {
            let log = increasing_root(-1.0, 0.5, |log| {
                let factor = (direction * log.exp()).exp();
                let (score, _) = self.falling_score(shape * factor);
                (
                    self.deviation(shape, shape * factor) - reach,
                    2.0 * score * shape * factor * direction * log.exp(),
                )
            });
            shape * (direction * log.exp()).exp()
        };
        // Records that begin late may leave the likelihood flat towards zero.
        let lower = if self.deviation(shape, *SHAPES.start()) < reach { 0.0 } else { limit(-1.0) };
        (lower, limit(1.0))
    }

    /// ln λ in the unit of the ages.
    pub(crate) fn log_scale(&self, shape: f64) -> f64 {
        (self.n / self.total(shape).0).ln() - shape * self.longest.ln()
    }

    /// Σ (b^β − a^β) and its first two derivatives in β.
    fn total(&self, shape: f64) -> (f64, f64, f64) {
        let part = |x: f64| {
            let log = if x > 0.0 { x.ln() } else { 0.0 };
            let power = if x > 0.0 { (shape * log).exp() } else { 0.0 };
            (power, power * log, power * log * log)
        };
        self.windows.iter().fold((0.0, 0.0, 0.0), |sum, &(from, to, count)| {
            let (a, b) = (part(from), part(to));
            (sum.0 + count * (b.0 - a.0), sum.1 + count * (b.1 - a.1), sum.2 + count * (b.2 - a.2))
        })
    }

    fn profile(&self, shape: f64) -> f64 {
        self.n * shape.ln() + shape * self.log_ages - self.n * self.total(shape).0.ln()
    }

    /// The derivative of the profile in β with its sign changed, and the slope of that in ln β.
    fn falling_score(&self, shape: f64) -> (f64, f64) {
        let (total, first, second) = self.total(shape);
        let score = self.n / shape + self.log_ages - self.n * first / total;
        let slope = -self.n / (shape * shape) - self.n * (second / total - (first / total).powi(2));
        (-score, -slope * shape)
    }
}
