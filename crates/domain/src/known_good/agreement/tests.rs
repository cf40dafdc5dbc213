use super::*;

fn read(unit: u32, rater: u32, value: f64) -> Read {
    Read { unit, rater, value }
}

fn close(found: f64, wanted: f64, part: f64) -> bool {
    (found - wanted).abs() <= part * wanted.abs()
}

fn assert_spread(spread: Spread, [deviation, lower, upper]: [f64; 3]) {
    let limits = spread.limits.unwrap();
    assert!(close(spread.standard_deviation, deviation, 2e-6), "{spread:?} {deviation}");
    let (low, high) = (limits.lower.unwrap(), limits.upper.unwrap());
    assert!(close(low, lower, 2e-5) && close(high, upper, 2e-5), "{spread:?}: {lower} to {upper}");
}

/// Ten parts read three times by each of three: the worked example of a gauge study in the manual of measurement systems of the
/// automotive industry (AIAG, 3rd edition; values from memory, whose sums of squares are the printed ones: 3.1673, 88.3619,
/// 0.3590, 2.7589). Printed without interaction: repeatability 0.199933, reproducibility 0.226838, parts 1.042327.
fn gauge_study() -> Vec<Read> {
    const READERS: [[[f64; 10]; 3]; 3] = [
        [
            [0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36],
            [0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25],
            [0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31],
        ],
        [
            [0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68],
            [0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62],
            [0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50],
        ],
        [
            [0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49],
            [-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77],
            [-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16],
        ],
    ];
    let mut reads = Vec::new();
    for (reader, trials) in READERS.iter().enumerate() {
        for trial in trials {
            reads.extend(
                trial.iter().enumerate().map(|(part, value)| read(part as u32, reader as u32, *value)),
            );
        }
    }
    reads
}

/// Limits: the profile of the restricted likelihood by dense matrices in NumPy and SciPy 1's minimiser.
#[test]
fn a_balanced_study_is_the_analysis_of_variance() {
    let agreement = agreement(&gauge_study()).unwrap();
    assert_spread(agreement.rest, [0.199_933_179_72, 0.172_234_513, 0.235_936_288]);
    assert_spread(agreement.between_units.unwrap(), [1.042_327_493_84, 0.696_569_420, 1.800_875_438]);
    assert_spread(agreement.between_raters.unwrap(), [0.226_837_521_50, 0.103_198_799, 0.961_150_860]);
    assert_eq!(
        (agreement.readings, agreement.units, agreement.shared_units, agreement.raters),
        (90, 10, 10, 3)
    );
    // What is drawn towards all: of 30 readings 30·0.0515 of 30·0.0515 + 0.0400.
    let shrunken = 30.0 * 0.226_837_521_5_f64.powi(2)
        / (30.0 * 0.226_837_521_5_f64.powi(2) + 0.199_933_179_7_f64.powi(2));
    let first =
        gauge_study().iter().filter(|read| read.rater == 0).map(|read| read.value).sum::<f64>() / 30.0;
    assert!(
        close(agreement.rated[0].bias, shrunken * (first - agreement.mean), 1e-5),
        "{:?}",
        agreement.rated
    );
}

/// Yields of dyestuff from six batches of an intermediate: Davies, Statistical Methods in Research and Production, 1947, table 6.3
/// (values from memory; the estimates are those of its analysis of variance, 49.51 and 42.00).
#[test]
fn where_nobody_is_told_apart_units_are() {
    const BATCHES: [[f64; 5]; 6] = [
        [1545.0, 1440.0, 1440.0, 1520.0, 1580.0],
        [1540.0, 1555.0, 1490.0, 1560.0, 1495.0],
        [1595.0, 1550.0, 1605.0, 1510.0, 1560.0],
        [1445.0, 1440.0, 1595.0, 1465.0, 1545.0],
        [1595.0, 1630.0, 1515.0, 1635.0, 1625.0],
        [1520.0, 1455.0, 1450.0, 1480.0, 1445.0],
    ];
    let of_batches = |rater: &dyn Fn(u32) -> u32| -> Vec<Read> {
        let of = |(batch, values): (usize, &[f64; 5])| {
            values.map(|value| read(batch as u32, rater(batch as u32), value))
        };
        BATCHES.iter().enumerate().flat_map(of).collect()
    };
    let alone = agreement(&of_batches(&|_| 7)).unwrap();
    assert!(close(alone.rest.standard_deviation, 2451.25_f64.sqrt(), 1e-6), "{alone:?}");
    assert!(close(alone.between_units.unwrap().standard_deviation, 1764.05_f64.sqrt(), 1e-6), "{alone:?}");
    assert!(close(alone.mean, 1527.5, 1e-12));
    assert!(alone.between_raters.is_none() && alone.rated.is_empty(), "one alone read");
    // Each has a batch of his own: nobody can say whose the difference is.
    let own = agreement(&of_batches(&|batch| batch)).unwrap();
    assert!(own.between_raters.is_none() && own.shared_units == 0, "{own:?}");
}

/// Unequal numbers, readers crossed with units here and there. Estimates: statsmodels 0.15, MixedLM with two crossed variance
/// components by REML, to the five figures that its optimiser gives; limits as above.
#[test]
fn unequal_numbers_are_no_hindrance() {
    const READS: [(u32, u32, f64); 39] = [
        (0, 1, 9.33),
        (0, 1, 8.36),
        (0, 3, 7.79),
        (1, 0, 9.31),
        (1, 1, 8.25),
        (1, 1, 8.88),
        (1, 2, 7.25),
        (1, 3, 7.94),
        (1, 3, 8.15),
        (2, 0, 10.72),
        (2, 2, 8.75),
        (2, 2, 8.19),
        (2, 3, 9.04),
        (2, 3, 9.01),
        (3, 0, 11.12),
        (3, 1, 10.5),
        (3, 3, 9.16),
        (3, 3, 9.95),
        (4, 1, 12.14),
        (4, 1, 11.91),
        (4, 2, 10.64),
        (4, 2, 9.95),
        (5, 0, 11.3),
        (5, 1, 9.33),
        (5, 2, 9.14),
        (5, 2, 9.75),
        (6, 0, 10.85),
        (6, 0, 9.93),
        (6, 1, 9.36),
        (6, 1, 9.11),
        (6, 3, 8.95),
        (7, 1, 9.57),
        (7, 1, 9.67),
        (7, 2, 7.89),
        (7, 3, 8.35),
        (8, 0, 11.84),
        (8, 2, 10.02),
        (8, 2, 10.34),
        (8, 3, 10.05),
    ];
    let reads: Vec<Read> = READS.iter().map(|(unit, rater, value)| read(*unit, *rater, *value)).collect();
    let found = agreement(&reads).unwrap();
    assert_spread(found.rest, [0.410_386_743, 0.321_048_743, 0.550_531_944]);
    assert_spread(found.between_units.unwrap(), [1.019_867_145, 0.648_335_053, 1.858_415_915]);
    assert_spread(found.between_raters.unwrap(), [0.883_135_837, 0.450_323_426, 2.642_336_834]);
    assert!(close(found.mean, 9.658_888, 1e-5), "{}", found.mean);
    let biases = [1.105_475, 0.255_146, -0.860_582, -0.500_039];
    for (rated, bias) in found.rated.iter().zip(biases) {
        assert!(close(rated.bias, bias, 1e-4) && rated.standard_error > 0.3, "{rated:?} {bias}");
    }
}

#[test]
fn the_unit_of_the_values_does_not_matter() {
    let before = agreement(&gauge_study()).unwrap();
    let moved: Vec<Read> =
        gauge_study().into_iter().map(|read| Read { value: 1000.0 - 40.0 * read.value, ..read }).collect();
    let after = agreement(&moved).unwrap();
    for (one, other) in [
        (before.rest, after.rest),
        (before.between_units.unwrap(), after.between_units.unwrap()),
        (before.between_raters.unwrap(), after.between_raters.unwrap()),
    ] {
        assert!(close(other.standard_deviation, 40.0 * one.standard_deviation, 1e-5), "{one:?} {other:?}");
    }
    assert!(close(after.rated[0].bias, -40.0 * before.rated[0].bias, 1e-4));
}

#[test]
fn readers_who_read_alike_differ_by_nothing() {
    // Each unit is read alike by both, once a little more and once a little less.
    let reads: Vec<Read> =
        (0..24).map(|n| read(n / 4, n % 2, f64::from(n / 4) + 0.1 * f64::from(n / 2 % 2))).collect();
    let found = agreement(&reads).unwrap();
    let readers = found.between_raters.unwrap();
    assert!(readers.standard_deviation == 0.0 && readers.limits.unwrap().lower == Some(0.0), "{found:?}");
    assert!(readers.limits.unwrap().upper.unwrap() > 0.0);
    assert!(found.rated.iter().all(|rated| rated.bias == 0.0), "{found:?}");
}

#[test]
fn what_says_nothing_of_the_rest_is_refused() {
    assert!(agreement(&[]).is_err());
    assert!(agreement(&[read(0, 0, 1.0); 5]).is_err(), "all are equal");
    assert!(agreement(&[read(0, 0, 1.0), read(0, 1, f64::NAN), read(1, 0, 2.0)]).is_err());
    let each_explained = [read(0, 0, 1.0), read(0, 1, 2.0), read(1, 1, 4.0)];
    assert!(matches!(agreement(&each_explained), Err(KnownGoodError::TooFew { .. })));
}
