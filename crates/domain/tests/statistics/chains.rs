//! Whether what is said of chains of repairs is true of simulated fleets whose rates are known: the share that comes back, and
//! whether it comes faster.

use crate::random::Uniform;
use domain::repeats::Observed;
use domain::repeats::trend::{LEAST_EVENTS, laplace};
use domain::repeats::within::{End, share_repeated};

const SEEDS: u64 = 20;
/// A day, of a failure that comes back and of a removal that ends the chain.
const FAILURE: f64 = 1.0 / 150.0;
const REMOVAL: f64 = 1.0 / 900.0;
const WATCHED: f64 = 730.0;

/// Every restoration of so many machines, each at risk until it comes back, its machine goes, or the watch ends.
fn restorations(machines: u32, seed: u64) -> Vec<(f64, End)> {
    let mut uniform = Uniform(seed);
    let mut found = Vec::new();
    for _ in 0..machines {
        let (mut at, gone) = (WATCHED * uniform.next(), -uniform.next().ln() / REMOVAL);
        let gone = at + gone;
        while at < WATCHED.min(gone) {
            let again = at - uniform.next().ln() / FAILURE;
            let (until, end) = match () {
                () if again < gone.min(WATCHED) => (again, End::Repeat),
                () if gone < WATCHED => (gone, End::Removed),
                () => (WATCHED, End::Censored),
            };
            found.push((until - at, end));
            // Two days until it runs again.
            at = if end == End::Repeat { again + 2.0 } else { WATCHED };
        }
    }
    found
}

/// The share repeated by D is λ/(λ + μ)·(1 − exp(−(λ + μ)·D)) where both come at constant rates, λ and μ.
#[test]
fn the_share_of_repairs_that_come_back_is_the_planted_one() {
    let both = FAILURE + REMOVAL;
    for days in [30.0, 90.0, 365.0_f64] {
        let truth = FAILURE / both * -(-both * days).exp_m1();
        let shares: Vec<_> =
            (1..=SEEDS).map(|seed| share_repeated(&restorations(300, seed), days, 0.95).unwrap()).collect();
        let n = SEEDS as f64;
        let mean = shares.iter().map(|share| share.share).sum::<f64>() / n;
        let variance = shares.iter().map(|share| (share.share - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let error = (variance / n).sqrt();
        let held = shares.iter().filter(|share| {
            share.lower.is_some_and(|lower| lower <= truth) && share.upper.is_some_and(|upper| truth <= upper)
        });
        let held = held.count();
        println!(
            "back within {days} days: planted {truth:.4}, found {mean:.4} ± {error:.4}, limits hold it in {held} of {SEEDS}"
        );
        assert!((mean - truth).abs() < 4.0 * error, "{days}: {mean} ± {error}, planted {truth}");
        // Of twenty intervals at 95 %, fewer than sixteen hold it in one of three hundred fleets.
        assert!(held >= 16, "{days}: {held}");
    }
}

/// A kitchen's year, its failures coming at a constant rate or at one that grows as the square of the time.
fn year(uniform: &mut Uniform, grows: bool) -> Observed {
    let n = uniform.poisson(9.0);
    let at = |uniform: &mut Uniform| 365.0 * if grows { uniform.next().cbrt() } else { uniform.next() };
    let mut events: Vec<f64> = (0..n).map(|_| at(uniform)).collect();
    events.sort_by(f64::total_cmp);
    Observed { from: 0.0, to: 365.0, events }
}

/// A constant rate is called a trend as seldom as is stated; one that grows is found.
#[test]
fn a_trend_is_told_as_seldom_by_chance_as_is_stated() {
    let told = |grows: bool| {
        let (mut told, mut asked) = (0_u32, 0_u32);
        for seed in 1..=SEEDS {
            let mut uniform = Uniform(1000 + seed);
            for _ in 0..500 {
                let kitchen = [year(&mut uniform, grows)];
                if kitchen[0].events.len() >= LEAST_EVENTS as usize {
                    asked += 1;
                    told += u32::from(laplace(&kitchen).unwrap().p < 0.05);
                }
            }
        }
        (f64::from(told) / f64::from(asked), f64::from(asked))
    };
    let ((false_alarms, asked), (found, _)) = (told(false), told(true));
    println!("a trend told of {asked} kitchens: constant {false_alarms:.4}, growing {found:.4}");
    // The normal law of Laplace's statistic is near from four events on: a hundredth is allowed beside four standard errors.
    assert!((false_alarms - 0.05).abs() < 0.01 + 4.0 * (0.0475 / asked).sqrt(), "{false_alarms}");
    assert!(found > 0.7, "{found}");
}
