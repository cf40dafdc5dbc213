use std::collections::BTreeMap;

/// Weights that hold every contribution down to `most` of the whole, `prior + Σ w·c`; the prior counts
/// into the whole, so that a weight exists however few contribute.
pub(super) fn capped<K: Ord + Copy>(
    contributions: &BTreeMap<K, f64>,
    prior: f64,
    most: f64,
) -> BTreeMap<K, f64> {
    let mut limit = f64::INFINITY;
    // The limit falls towards its fixed point, by at least a factor each time.
    for _ in 0..200 {
        let whole: f64 = prior + contributions.values().map(|c| c.min(limit)).sum::<f64>();
        let next = most * whole;
        if next >= limit * (1.0 - 1e-12) {
            break;
        }
        limit = next;
    }
    let weight = |contribution: f64| if contribution > limit { limit / contribution } else { 1.0 };
    contributions.iter().map(|(key, contribution)| (*key, weight(*contribution))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_gives_more_than_a_tenth() {
        let contributions: BTreeMap<u32, f64> = (0..30).map(|i| (i, f64::from(i))).collect();
        let weights = capped(&contributions, 4.0, 0.1);
        let whole: f64 = 4.0 + contributions.iter().map(|(key, c)| c * weights[key]).sum::<f64>();
        for (key, contribution) in &contributions {
            assert!(contribution * weights[key] <= 0.1 * whole + 1e-9);
        }
        assert!((weights[&3] - 1.0).abs() < 1e-12);
        // A single one against the prior alone: c = 0.1·(4 + c).
        let alone = capped(&BTreeMap::from([(1, 50.0)]), 4.0, 0.1);
        assert!((50.0 * alone[&1] - 4.0 / 9.0).abs() < 1e-9);
    }
}
