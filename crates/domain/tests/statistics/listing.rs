//! Whether the list of kitchens keeps its promise on simulated fleets: few of its entries are false,
//! and kitchens at three times the fleet's rate are found.

use crate::random::Uniform;
use domain::probability::gamma_quantile;
use domain::repeats::listing::list;
use domain::repeats::prior::{Observation, fit_prior};

/// Failures expected in a cell, one stratum each.
const EXPECTED: [f64; 6] = [1.0, 2.0, 4.0, 8.0, 12.0, 20.0];
const PLANTED: usize = 600;

/// What the list of one simulated fleet held.
#[derive(Default)]
struct Outcome {
    listed: usize,
    listed_without_excess: usize,
    found: [usize; 6],
}

/// In each stratum `ordinary` cells whose rates have a gamma distribution of mean 1 and shape `alpha`
/// (all equal where it is infinite), and 600 planted at three times the fleet's rate.
fn simulate(alpha: f64, ordinary: usize, seed: u64) -> Outcome {
    let mut uniform = Uniform(seed);
    let mut cells = Vec::new();
    for (stratum, expected) in EXPECTED.into_iter().enumerate() {
        for i in 0..PLANTED + ordinary {
            let planted = i < PLANTED;
            let theta = match alpha {
                _ if planted => 3.0,
                f64::INFINITY => 1.0,
                alpha => gamma_quantile(alpha, uniform.next()) / alpha,
            };
            cells.push((
                Observation { n: uniform.poisson(theta * expected), expected },
                theta,
                stratum,
                planted,
            ));
        }
    }
    let observations: Vec<Observation> = cells.iter().map(|cell| cell.0).collect();
    let prior = fit_prior(&observations).unwrap();
    let exceeds: Vec<f64> =
        observations.iter().map(|cell| prior.assess(*cell).unwrap().exceeds_twice).collect();
    let mut outcome = Outcome::default();
    for index in list(&exceeds).unwrap() {
        let (_, theta, stratum, planted) = cells[index];
        outcome.listed += 1;
        outcome.listed_without_excess += usize::from(theta <= 2.0);
        outcome.found[stratum] += usize::from(planted);
    }
    outcome
}

fn keeps_its_promise(ordinary: usize, seeds: u64) {
    for (alpha, least_found) in [
        (f64::INFINITY, [0.0, 0.0, 0.40, 0.85, 0.95, 0.95]),
        (20.0, [0.0; 6]),
        (10.0, [0.0, 0.0, 0.0, 0.0, 0.70, 0.88]),
    ] {
        let outcomes: Vec<Outcome> = (1..=seeds).map(|seed| simulate(alpha, ordinary, seed)).collect();
        let shares: Vec<f64> =
            outcomes.iter().map(|o| o.listed_without_excess as f64 / o.listed.max(1) as f64).collect();
        let n = seeds as f64;
        let mean = shares.iter().sum::<f64>() / n;
        let variance = shares.iter().map(|share| (share - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let error = (variance / n).sqrt();
        let found = |stratum: usize| {
            let found: usize = outcomes.iter().map(|outcome| outcome.found[stratum]).sum();
            found as f64 / (PLANTED as f64 * n)
        };
        println!(
            "{ordinary} ordinary cells a stratum, seeds 1–{seeds}, shape {alpha}: without excess {mean:.4} ± \
             {error:.4}, found at E = {EXPECTED:?}: {:.3?}",
            (0..6).map(found).collect::<Vec<_>>()
        );
        assert!(mean <= 0.10 + 2.0 * error, "shape {alpha}: {mean} of the list without excess");
        for (stratum, least) in least_found.into_iter().enumerate() {
            let found = found(stratum);
            assert!(found >= least, "shape {alpha}, E {}: {found} found", EXPECTED[stratum]);
        }
    }
}

#[test]
fn a_small_fleet_gets_a_list_that_keeps_its_promise() {
    keeps_its_promise(600, 2);
}

#[test]
#[ignore = "half a minute on a quiet core: cargo test -p domain --test statistics -- --ignored --nocapture"]
fn large_fleets_get_lists_that_keep_their_promise() {
    keeps_its_promise(2000, 20);
    keeps_its_promise(6000, 20);
}
