//! Tolerance intervals between order statistics: right for any continuous distribution, for those who
//! doubt the normal one and have many units.
//!
//! Source: S. S. Wilks, 1941; ISO 16269-6:2014, distribution-free intervals; Hahn and Meeker, Statistical
//! Intervals, 1991, chapter 5.

use serde::{Deserialize, Serialize};

use super::tolerance::{Aim, Limits, Sides};
use super::{KnownGoodError, require};

/// An interval between two order statistics, or from one of them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OrderStatisticInterval {
    pub limits: Limits,
    /// Rank of the lower limit, 1 the smallest value.
    pub lower_rank: Option<u32>,
    pub upper_rank: Option<u32>,
    /// What the interval has, at least what was aimed at.
    pub confidence: f64,
    pub n: u32,
    pub aim: Aim,
}

/// The smallest sample whose extreme value (one-sided) or extreme values (two-sided) make the interval.
///
/// ```
/// use domain::known_good::{distribution_free::sample_size, tolerance::{Aim, Sides}};
/// assert_eq!(sample_size(Aim::new(Sides::Upper, 0.95, 0.95)?), 59);
/// assert_eq!(sample_size(Aim::new(Sides::Both, 0.95, 0.95)?), 93);
/// # Ok::<(), domain::known_good::KnownGoodError>(())
/// ```
pub fn sample_size(aim: Aim) -> u32 {
    let discarded = if aim.sides() == Sides::Both { 2 } else { 1 };
    let enough = |n| confidence(n, discarded, aim.coverage()) >= aim.confidence();
    let mut high = 2;
    while !enough(high) {
        high *= 2;
    }
    let mut low = high / 2;
    while high - low > 1 {
        let middle = low.midpoint(high);
        if enough(middle) { high = middle } else { low = middle }
    }
    // One value is never an interval, however low the aim.
    if enough(low) && low > 1 { low } else { high }
}

/// The shortest interval in ranks that reaches the aim: as many values as possible are left outside,
/// on both sides alike (one more above where the number is odd). Fewer than [`sample_size`] values are an error.
pub fn order_statistic_interval(values: &[f64], aim: Aim) -> Result<OrderStatisticInterval, KnownGoodError> {
    require(values, sample_size(aim), "values")?;
    let n = values.len() as u32;
    let least = if aim.sides() == Sides::Both { 2 } else { 1 };
    let discarded = most_discarded(n, aim, least);
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let (below, above) = match aim.sides() {
        Sides::Lower => (discarded, 0),
        Sides::Upper => (0, discarded),
        Sides::Both => (discarded / 2, discarded - discarded / 2),
    };
    let lower_rank = (below > 0).then_some(below);
    let upper_rank = (above > 0).then_some(n + 1 - above);
    let at = |rank: u32| sorted[rank as usize - 1];
    Ok(OrderStatisticInterval {
        limits: Limits { lower: lower_rank.map(at), upper: upper_rank.map(at) },
        lower_rank,
        upper_rank,
        confidence: confidence(n, discarded, aim.coverage()),
        n,
        aim,
    })
}

fn most_discarded(n: u32, aim: Aim, least: u32) -> u32 {
    let enough = |discarded| confidence(n, discarded, aim.coverage()) >= aim.confidence();
    let (mut low, mut high) = (least, n);
    while high - low > 1 {
        let middle = low.midpoint(high);
        if enough(middle) { low = middle } else { high = middle }
    }
    low
}

/// The confidence when `discarded` of the n + 1 blocks between the values lie outside the interval:
/// P(N ≥ discarded) where N of n values fall among the share 1 − p of the population.
fn confidence(n: u32, discarded: u32, coverage: f64) -> f64 {
    let (outside, inside) = ((1.0 - coverage).ln(), coverage.ln());
    let mut log_term = f64::from(n) * inside;
    let mut fewer = 0.0;
    for count in 0..discarded {
        fewer += log_term.exp();
        log_term += (f64::from(n - count) / f64::from(count + 1)).ln() + outside - inside;
    }
    (1.0 - fewer).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranks_of_printed_tables() {
        // Upper limit, 95/95, largest rank discards (computed, scipy 1.17.1 stats.binom.sf): n 93 → 2, n 124 → 3.
        for (n, expected) in [(59, 1), (92, 1), (93, 2), (123, 2), (124, 3), (10_000, 464)] {
            let aim = Aim::new(Sides::Upper, 0.95, 0.95).unwrap();
            assert_eq!(most_discarded(n, aim, 1), expected, "n {n}");
        }
    }

    #[test]
    fn the_interval_lies_on_its_ranks() {
        let values: Vec<f64> = (1..=200).rev().map(f64::from).collect();
        let both = order_statistic_interval(&values, Aim::new(Sides::Both, 0.95, 0.95).unwrap()).unwrap();
        assert_eq!((both.lower_rank, both.upper_rank), (Some(2), Some(198)));
        assert_eq!(both.limits, Limits { lower: Some(2.0), upper: Some(198.0) });
        assert!(both.confidence >= 0.95);
        let lower = order_statistic_interval(&values, Aim::new(Sides::Lower, 0.95, 0.95).unwrap()).unwrap();
        assert_eq!((lower.limits.upper, lower.upper_rank), (None, None));
        assert!(lower.limits.lower.unwrap() > 2.0);
    }

    #[test]
    fn too_few_values_say_how_many_are_needed() {
        let few = order_statistic_interval(&[1.0; 298], Aim::usual(Sides::Upper));
        assert_eq!(few, Err(KnownGoodError::TooFew { what: "values", needed: 299, actual: 298 }));
    }
}
