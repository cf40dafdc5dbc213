//! How often something happens: exact limits of a bare count, and the count that the fleet would give.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{RepeatsError, check_confidence};
use crate::probability::{gamma_quantile, poisson_tails};

/// Limits of the mean of a Poisson count.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CountLimits {
    pub lower: f64,
    pub upper: f64,
    pub confidence: f64,
}

/// Exact two-sided limits of the mean of a Poisson count `n`: χ²(α/2; 2n)/2 and χ²(1 − α/2; 2n + 2)/2.
/// Divide by the time observed for limits of the rate.
///
/// Source: F. Garwood, Fiducial limits for the Poisson distribution, Biometrika, 1936.
///
/// ```
/// let limits = domain::repeats::rate::garwood(3, 0.95)?;
/// assert!((limits.lower - 0.6187).abs() < 1e-4 && (limits.upper - 8.7673).abs() < 1e-4);
/// # Ok::<(), domain::repeats::RepeatsError>(())
/// ```
pub fn garwood(n: u32, confidence: f64) -> Result<CountLimits, RepeatsError> {
    check_confidence(confidence)?;
    let tail = 0.5 * (1.0 - confidence);
    let n = f64::from(n);
    let lower = if n > 0.0 { gamma_quantile(n, tail) } else { 0.0 };
    Ok(CountLimits { lower, upper: gamma_quantile(n + 1.0, 1.0 - tail), confidence })
}

/// P(N ≥ n) where the fleet's rate gives `expected` ≥ 0: one-sided and exact, no mid-p.
pub fn poisson_tail(n: u32, expected: f64) -> Result<f64, RepeatsError> {
    if !(expected.is_finite() && expected >= 0.0) {
        let (name, allowed) = ("the expected count", "a finite number from zero");
        return Err(RepeatsError::Parameter { name, allowed, actual: expected });
    }
    Ok(poisson_tails(n.into(), expected).upper)
}

/// What one kitchen had in one stratum (model, position, age band).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Exposure<Kitchen, Stratum> {
    pub kitchen: Kitchen,
    pub stratum: Stratum,
    /// In service and not failed, in any one unit of time.
    pub time: f64,
    pub failures: u32,
}

/// One kitchen against the fleet.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    /// Failures seen.
    pub n: u32,
    /// Failures that the rest of the fleet's rate gives in the kitchen's own time.
    pub expected: f64,
    /// Failures left out, because no other kitchen has the stratum and so the fleet has no rate.
    pub n_without_fleet: u32,
}

/// For each kitchen its failures and those expected, E = Σ time × rate of the **other** kitchens in the
/// same stratum, so that a kitchen is never compared with itself. Times must be finite and not negative, alone and
/// together; more failures than a `u32` holds are an error too.
///
/// ```
/// use domain::repeats::rate::{against_fleet, Exposure};
/// let exposure = |kitchen, time, failures| Exposure { kitchen, stratum: "valve", time, failures };
/// let cells = against_fleet(&[exposure("a", 1.0, 6), exposure("b", 4.0, 2), exposure("c", 6.0, 3)])?;
/// assert!((cells["a"].expected - 0.5).abs() < 1e-12); // (2 + 3)/(4 + 6) a year, for one year
/// # Ok::<(), domain::repeats::RepeatsError>(())
/// ```
pub fn against_fleet<Kitchen: Ord + Clone, Stratum: Ord + Clone>(
    exposures: &[Exposure<Kitchen, Stratum>],
) -> Result<BTreeMap<Kitchen, Cell>, RepeatsError> {
    // By kitchen and stratum first: a kitchen may bring several exposures of one stratum.
    let mut own: BTreeMap<(&Kitchen, &Stratum), (f64, u64)> = BTreeMap::new();
    let mut fleet: BTreeMap<&Stratum, (f64, u64, u32)> = BTreeMap::new();
    for Exposure { kitchen, stratum, time, failures } in exposures {
        check_time(*time)?;
        let of_kitchen = own.entry((kitchen, stratum)).or_default();
        *of_kitchen = (of_kitchen.0 + time, of_kitchen.1 + u64::from(*failures));
    }
    for ((_, stratum), (time, failures)) in &own {
        let all = fleet.entry(stratum).or_default();
        *all = (all.0 + time, all.1 + failures, all.2 + u32::from(*time > 0.0));
        check_time(all.0)?;
    }
    let mut cells: BTreeMap<Kitchen, Cell> = BTreeMap::new();
    for ((kitchen, stratum), (time, failures)) in own {
        let cell = cells.entry(kitchen.clone()).or_default();
        let (all_time, all_failures, kitchens) = fleet[stratum];
        // Counted in kitchens: the difference of two equal sums of times need not be zero.
        if kitchens > u32::from(time > 0.0) {
            cell.n = more(cell.n, failures)?;
            cell.expected += time * (all_failures - failures) as f64 / (all_time - time);
        } else {
            cell.n_without_fleet = more(cell.n_without_fleet, failures)?;
        }
    }
    Ok(cells)
}

fn check_time(actual: f64) -> Result<(), RepeatsError> {
    let (name, allowed) = ("a time in service, alone and with all others", "a finite number from zero");
    let holds = actual.is_finite() && actual >= 0.0;
    if holds { Ok(()) } else { Err(RepeatsError::Parameter { name, allowed, actual }) }
}

fn more(count: u32, failures: u64) -> Result<u32, RepeatsError> {
    let sum = u64::from(count) + failures;
    u32::try_from(sum).map_err(|_| RepeatsError::TooMany { what: "failures of one kitchen", actual: sum })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bad_input_is_an_error() {
        assert!(garwood(3, 1.0).is_err() && garwood(3, f64::NAN).is_err());
        assert!(poisson_tail(1, -0.1).is_err() && poisson_tail(1, f64::NAN).is_err());
        let endless = [Exposure { kitchen: 1, stratum: 1, time: f64::INFINITY, failures: 1 }];
        assert!(against_fleet(&endless).is_err());
        let too_long = [1, 2].map(|kitchen| Exposure { kitchen, stratum: 1, time: f64::MAX, failures: 1 });
        assert!(matches!(against_fleet(&too_long), Err(RepeatsError::Parameter { .. })));
    }

    #[test]
    fn more_failures_than_are_counted_are_an_error_and_as_many_as_that_are_not() {
        let most = |kitchen| Exposure { kitchen, stratum: 1, time: 1.0, failures: u32::MAX };
        let cells = against_fleet(&[most(1), most(2)]).unwrap();
        assert_eq!((cells[&1].n, cells[&1].expected), (u32::MAX, f64::from(u32::MAX)));
        assert!(garwood(u32::MAX, 0.9).unwrap().upper.is_finite());
        for twice in [vec![most(1), most(1), most(2)], vec![most(1), most(1)]] {
            assert!(matches!(
                against_fleet(&twice),
                Err(RepeatsError::TooMany { actual: 8_589_934_590, .. })
            ));
        }
    }

    #[test]
    fn no_event_is_certain_to_be_reached_and_one_is_not_where_none_is_expected() {
        assert_eq!((poisson_tail(0, 3.0), poisson_tail(1, 0.0)), (Ok(1.0), Ok(0.0)));
    }

    #[test]
    fn a_stratum_of_one_kitchen_is_left_out_and_counted() {
        let exposure = |kitchen, stratum, time, failures| Exposure { kitchen, stratum, time, failures };
        let cells = against_fleet(&[
            exposure(1, 'a', 0.1, 1),
            exposure(1, 'a', 0.2, 1),
            exposure(2, 'b', 2.0, 4),
            exposure(1, 'b', 3.0, 6),
        ])
        .unwrap();
        assert_eq!((cells[&1].n, cells[&1].n_without_fleet), (6, 2));
        assert!((cells[&1].expected - 6.0).abs() < 1e-12 && (cells[&2].expected - 4.0).abs() < 1e-12);
    }
}
