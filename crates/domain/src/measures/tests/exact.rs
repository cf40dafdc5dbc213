//! Limits and tests against a general reference library and worked examples.

use crate::measures::{Duration, clopper_pearson, differ, fisher, spread, two_rates};

fn close(actual: f64, expected: f64, relative: f64, what: &str) {
    let error = (actual - expected).abs();
    assert!(error <= relative * expected.abs() + 1e-15, "{what}: {actual:e}, expected {expected:e}");
}

/// Computed with scipy 1.17.1 (stats.binomtest(…).proportion_ci(method='exact')); 0 of 10 is 1 − 0.025^(1/10) in closed form.
#[test]
fn limits_of_a_share_agree_with_a_reference_library() {
    for (part, whole, confidence, lower, upper) in [
        (0, 10, 0.95, 0.0, 0.308_497_107_818_762_94),
        (3, 10, 0.95, 0.066_739_511_177_734_47, 0.652_452_850_060_008),
        (3, 10, 0.90, 0.087_264_433_914_150_29, 0.606_624_216_105_576_5),
        (10, 10, 0.95, 0.691_502_892_181_237_1, 1.0),
        (148, 243, 0.95, 0.544_616_902_379_061_7, 0.670_795_153_021_713_7),
        (7, 15, 0.95, 0.212_666_729_519_315_15, 0.734_138_652_722_603_4),
        (1, 1, 0.95, 0.025, 1.0),
        (4200, 50_000, 0.95, 0.081_582_832_814_496_16, 0.086_465_589_355_245_25),
    ] {
        let limits = clopper_pearson(part, whole, confidence).unwrap().unwrap();
        close(limits.lower, lower, 1e-9, &format!("lower of {part}/{whole}"));
        close(limits.upper, upper, 1e-9, &format!("upper of {part}/{whole}"));
    }
    assert_eq!(clopper_pearson(0, 0, 0.95).unwrap(), None);
    assert!(clopper_pearson(2, 1, 0.95).is_err() && clopper_pearson(1, 2, 95.0).is_err());
}

/// Fisher's lady tasting tea has 34/70 in closed form; the others computed with scipy 1.17.1 (stats.fisher_exact).
#[test]
fn two_shares_are_compared_as_fisher_did() {
    for (first, second, p) in [
        ((3, 4), (1, 4), 34.0 / 70.0),
        ((148, 243), (120, 207), 0.563_542_210_450_068_2),
        ((1, 10), (11, 14), 0.002_759_456_185_220_083_6),
        ((0, 20), (7, 20), 0.008_316_008_316_008_316),
        ((8, 10), (1, 6), 0.034_965_034_965_034_975),
        ((4200, 50_000), (4000, 50_000), 0.021_806_505_318_398_745),
    ] {
        close(fisher(first, second).unwrap().unwrap(), p, 1e-8, &format!("{first:?} against {second:?}"));
        close(fisher(second, first).unwrap().unwrap(), p, 1e-8, &format!("{second:?} against {first:?}"));
    }
    assert_eq!(fisher((0, 0), (1, 2)).unwrap(), None);
    assert_eq!(fisher((0, 5), (0, 9)).unwrap(), Some(1.0));
    assert!(fisher((3, 2), (1, 2)).is_err());
}

/// Computed with scipy 1.17.1 (stats.binomtest(x₁, x₁ + x₂, t₁/(t₁ + t₂))); the first pair is the
/// worked example in the help of R's poisson.test (counts from memory).
#[test]
fn two_rates_are_compared_given_their_sum() {
    for (first, second, p) in [
        ((11, 800.0), (21, 3011.0), 0.079_668_633_033_329_5),
        ((11, 800.0), (23, 3011.0), 0.136_634_447_064_282_32),
        ((2, 17_877.0), (11, 16_660.0), 0.010_533_195_709_663_86),
        ((0, 10.0), (5, 10.0), 0.0625),
        ((30, 100.0), (30, 100.0), 1.0),
    ] {
        close(two_rates(first, second).unwrap().unwrap(), p, 1e-8, &format!("{first:?} against {second:?}"));
    }
    assert_eq!(two_rates((1, 0.0), (1, 2.0)).unwrap(), None);
    assert_eq!(two_rates((0, 1.0), (0, 2.0)).unwrap(), Some(1.0));
    assert!(two_rates((1, f64::NAN), (1, 2.0)).is_err());
}

fn ended(hours: impl IntoIterator<Item = f64>) -> Vec<Duration> {
    hours.into_iter().map(|hours| Duration { hours, ended: true }).collect()
}

/// Places of the order statistics computed with scipy 1.17.1 (stats.binom.cdf), by their definition.
#[test]
fn order_statistics_hold_a_quantile() {
    let of = |n: u32| spread(&ended((1..=n).map(f64::from)), 0.95).unwrap();
    for (n, lower, upper) in [
        (5, None, None),
        (6, Some(1.0), Some(6.0)),
        (10, Some(2.0), Some(9.0)),
        (25, Some(8.0), Some(18.0)),
        (100, Some(40.0), Some(61.0)),
    ] {
        let median = of(n).median.unwrap();
        assert_eq!((median.lower, median.upper), (lower, upper), "median of {n}");
    }
    for (n, lower, upper) in
        [(20, Some(15.0), None), (59, Some(48.0), Some(58.0)), (1000, Some(881.0), Some(919.0))]
    {
        let nine_tenths = of(n).nine_tenths.unwrap();
        assert_eq!((nine_tenths.lower, nine_tenths.upper), (lower, upper), "nine tenths of {n}");
    }
    assert_eq!(of(100).nine_tenths.map(|quantile| quantile.hours), Some(90.0));
}

/// Remission times of the 6-MP arm and of placebo (Freireich and others, 1963); limits of the median and the log-rank test
/// computed with lifelines 0.30.3 (KaplanMeierFitter, median_survival_times; logrank_test).
#[test]
fn what_is_still_open_counts_as_longer() {
    let mut drug = ended([6.0, 6.0, 6.0, 7.0, 10.0, 13.0, 16.0, 22.0, 23.0]);
    let open = [6.0, 9.0, 10.0, 11.0, 17.0, 19.0, 20.0, 25.0, 32.0, 32.0, 34.0, 35.0];
    drug.extend(open.map(|hours| Duration { hours, ended: false }));
    let placebo =
        ended([1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23].map(f64::from));
    let told = spread(&drug, 0.95).unwrap();
    assert_eq!((told.n, told.open), (21, 12));
    let median = told.median.unwrap();
    assert_eq!((median.hours, median.lower, median.upper), (23.0, Some(13.0), None));
    assert_eq!(told.nine_tenths, None, "not nine in ten have ended");
    close(differ(&drug, &placebo).unwrap().unwrap(), 4.168_809_109_334_511e-5, 1e-6, "log-rank");
}

#[test]
fn nothing_gives_no_figure_and_nonsense_is_an_error() {
    let none = spread(&[], 0.95).unwrap();
    assert_eq!((none.n, none.median, none.nine_tenths), (0, None, None));
    let at_once = spread(&ended([0.0, 0.0]), 0.95).unwrap();
    assert!(at_once.median.unwrap().hours < 1e-5);
    for bad in [-1.0, f64::NAN, f64::INFINITY] {
        assert!(spread(&ended([bad]), 0.95).is_err(), "{bad}");
    }
    assert_eq!(differ(&[], &ended([1.0])).unwrap(), None);
}
