//! Whether two groups of parts live equally long.

use serde::{Deserialize, Serialize};

use super::risk_sets::RiskSets;
use super::{Life, ReliabilityError};
use crate::probability::gamma_tails;

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LogRank {
    /// Failures of the first group.
    pub observed: u32,
    /// Failures of the first group if both live equally long.
    pub expected: f64,
    /// χ² with one degree of freedom.
    pub statistic: f64,
    pub p: f64,
    pub failures: u32,
}

/// The log-rank test of two groups whose parts may enter at any age; hypergeometric variance, ties
/// allowed. An error where no failure ever happens with both groups under observation.
///
/// Source: Mantel, 1966; Peto and Peto, 1972; left truncation: Klein and Moeschberger, section 7.3.
pub fn log_rank(first: &[Life], second: &[Life]) -> Result<LogRank, ReliabilityError> {
    Life::check(first)?;
    Life::check(second)?;
    let both = RiskSets::of(&[first, second].concat());
    let first = RiskSets::of(first);
    let (mut observed, mut expected, mut variance, mut failures) = (0, 0.0, 0.0, 0);
    for age in both.failure_ages() {
        let (n, d) = both.at(age);
        let (n_first, d_first) = first.at(age);
        observed += d_first;
        failures += d;
        let (n, d, n_first) = (f64::from(n), f64::from(d), f64::from(n_first));
        let share = n_first / n;
        expected += d * share;
        if n > 1.0 {
            variance += d * share * (1.0 - share) * (n - d) / (n - 1.0);
        }
    }
    if variance <= 0.0 {
        let what = "failures while both groups were watched";
        return Err(ReliabilityError::TooFew { what, needed: 1, actual: 0 });
    }
    let statistic = (f64::from(observed) - expected).powi(2) / variance;
    Ok(LogRank { observed, expected, statistic, p: gamma_tails(0.5, 0.5 * statistic).upper, failures })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_never_watched_together_cannot_be_compared() {
        let life = |entry, exit| Life { entry, exit, failed: true };
        assert!(log_rank(&[life(0.0, 3.0)], &[life(5.0, 9.0)]).is_err());
        assert!(log_rank(&[life(0.0, 3.0)], &[]).is_err());
    }

    #[test]
    fn like_groups_do_not_differ() {
        let group: Vec<_> =
            (1..9).map(|i| Life { entry: 0.0, exit: f64::from(i), failed: i % 3 > 0 }).collect();
        let test = log_rank(&group, &group).unwrap();
        assert!(test.statistic < 1e-20 && test.p > 0.999_999, "{test:?}");
    }
}
