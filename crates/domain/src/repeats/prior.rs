//! How far kitchens differ in truth, learned from all of them together, and what that says of each.
//!
//! The failures of a cell are Poisson with mean θE, θ its rate against the fleet's. The distribution of
//! θ over the cells is estimated without any assumed form, on a grid: a single gamma distribution would
//! be pulled so wide by the many ordinary kitchens that it hides the few bad ones.
//!
//! Source: Laird, Nonparametric maximum likelihood estimation of a mixing distribution, 1978; Koenker and
//! Mizera, Journal of the American Statistical Association, 2014; Y. Wang (the method of solution), Journal of the
//! Royal Statistical Society B, 2007.

use serde::{Deserialize, Serialize};

use super::RepeatsError;
use super::rate::poisson_tail;

/// A kitchen is listed for a rate above this many times the fleet's.
pub const TWICE: f64 = 2.0;

/// The smallest rate of the grid; what is below it is taken as it.
const SMALLEST: f64 = 0.05;
/// The largest rate of the grid, unless a cell shows more.
const LARGEST: f64 = 20.0;
/// The grid's step in ln θ.
const STEP: f64 = 0.05;
/// The log-likelihood, of all cells together, may fall short of its maximum by this.
const TOLERANCE: f64 = 0.01;
const MOST_ROUNDS: u32 = 200;
/// What falls short of the maximum by more than this is no estimate.
const MOST_SHORTFALL: f64 = 1.0;

/// One kitchen (and position, or subsystem) against the fleet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Observation {
    /// Failures seen.
    pub n: u32,
    /// Failures expected at the fleet's rate; above zero.
    pub expected: f64,
}

/// The distribution of θ over the cells of one family.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Prior {
    /// Values of θ and their shares, which sum to one.
    pub masses: Vec<(f64, f64)>,
    pub cells: u32,
    /// How far the log-likelihood may still lie below its maximum, in nats.
    pub shortfall: f64,
}

/// What is known of one cell.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Assessment {
    pub observation: Observation,
    /// Posterior mean of θ.
    pub mean: f64,
    /// 90 % interval of θ, 5 % on either side.
    pub lower: f64,
    pub upper: f64,
    /// P(θ > 2), by which cells are listed.
    pub exceeds_twice: f64,
    /// P(N ≥ n) against an identical fleet: one-sided, exact.
    pub tail: f64,
}

/// Fits the distribution of θ to the cells of one family, at least two.
///
/// Each round adds the grid points at which the likelihood would rise most, solves the second-order
/// problem over the points in use and goes towards its solution. [`Prior::shortfall`] bounds what is left
/// to the maximum, which has no grid point of positive directional derivative. Errors: fewer cells, an
/// expected count that is no number above zero, and cells for which no distribution is found.
pub fn fit_prior(cells: &[Observation]) -> Result<Prior, RepeatsError> {
    check(cells)?;
    if cells.len() < 2 {
        return Err(RepeatsError::TooFew { what: "cells", needed: 2, actual: cells.len() as u32 });
    }
    let grid = grid(cells);
    let likelihood = Likelihood::new(cells, &grid);
    let mut shares = vec![0.0; grid.len()];
    for share in shares.iter_mut().step_by(10) {
        *share = 10.0 / grid.len() as f64;
    }
    let mut shortfall = f64::INFINITY;
    for _ in 0..MOST_ROUNDS {
        let state = likelihood.at(&shares);
        shortfall = state.shortfall;
        if shortfall <= TOLERANCE {
            break;
        }
        shares = likelihood.improve(&shares, &state);
    }
    let total: f64 = shares.iter().sum();
    let settled = shortfall <= MOST_SHORTFALL && total.is_finite() && total > 0.0;
    if !settled {
        let (what, rounds) = ("the distribution of rates", MOST_ROUNDS);
        return Err(RepeatsError::NotSettled { what, rounds, shortfall });
    }
    let masses = grid.into_iter().zip(shares).filter(|(_, share)| *share > 0.0);
    let masses = masses.map(|(theta, share)| (theta, share / total)).collect();
    Ok(Prior { masses, cells: cells.len() as u32, shortfall })
}

impl Prior {
    /// The posterior of one cell under this prior.
    pub fn assess(&self, observation: Observation) -> Result<Assessment, RepeatsError> {
        check(&[observation])?;
        let mut weights: Vec<f64> =
            self.masses.iter().map(|(theta, _)| log_likelihood(observation, *theta)).collect();
        let largest = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for (weight, (_, share)) in weights.iter_mut().zip(&self.masses) {
            *weight = share * (*weight - largest).exp();
        }
        let total: f64 = weights.iter().sum();
        let posterior =
            || self.masses.iter().zip(&weights).map(|((theta, _), weight)| (*theta, weight / total));
        let quantile = |p: f64| {
            let mut reached = 0.0;
            let found = posterior().find(|(_, share)| {
                reached += share;
                reached >= p
            });
            found.or(posterior().next_back()).map_or(SMALLEST, |(theta, _)| theta)
        };
        Ok(Assessment {
            observation,
            mean: posterior().map(|(theta, share)| theta * share).sum(),
            lower: quantile(0.05),
            upper: quantile(0.95),
            exceeds_twice: posterior()
                .filter(|(theta, _)| *theta > TWICE)
                .map(|(_, share)| share)
                .sum::<f64>()
                .min(1.0),
            tail: poisson_tail(observation.n, observation.expected)?,
        })
    }
}

fn check(cells: &[Observation]) -> Result<(), RepeatsError> {
    match cells.iter().find(|cell| !(cell.expected.is_finite() && cell.expected > 0.0)) {
        Some(cell) => {
            let (name, allowed) = ("the expected count", "a finite number above zero");
            Err(RepeatsError::Parameter { name, allowed, actual: cell.expected })
        }
        None => Ok(()),
    }
}

fn grid(cells: &[Observation]) -> Vec<f64> {
    let largest = cells
        .iter()
        .map(|cell| (f64::from(cell.n) + 2.0) / cell.expected)
        .filter(|ratio| ratio.is_finite())
        .fold(LARGEST, f64::max);
    let steps = ((largest / SMALLEST).ln() / STEP).ceil() as u32;
    (0..=steps).map(|step| SMALLEST * (f64::from(step) * STEP).exp()).collect()
}

/// ln of the Poisson probability but for what does not depend on θ.
fn log_likelihood(cell: Observation, theta: f64) -> f64 {
    f64::from(cell.n) * theta.ln() - theta * cell.expected
}

/// Each cell's likelihood at each point of the grid, in units of its largest.
struct Likelihood {
    rows: Vec<f64>,
    points: usize,
}

/// What is known of a set of shares.
struct State {
    /// Σ ln f − N Σ shares, which has the same maximum as the likelihood of shares that sum to one.
    objective: f64,
    /// 1/f for each cell, f its density under the shares.
    inverses: Vec<f64>,
    /// Σ over the cells of likelihood/f, for each point; no more than the number of cells at the maximum.
    ratios: Vec<f64>,
    shortfall: f64,
}

impl Likelihood {
    fn new(cells: &[Observation], grid: &[f64]) -> Self {
        let mut rows = Vec::with_capacity(cells.len() * grid.len());
        for cell in cells {
            let start = rows.len();
            rows.extend(grid.iter().map(|theta| log_likelihood(*cell, *theta)));
            let row = &mut rows[start..];
            let largest = row.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            for value in row {
                *value = (*value - largest).exp();
            }
        }
        Self { rows, points: grid.len() }
    }

    fn cells(&self) -> f64 {
        (self.rows.len() / self.points) as f64
    }

    fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.rows.chunks_exact(self.points)
    }

    /// The densities of the cells under shares that are mostly zero.
    fn densities(&self, shares: &[f64]) -> impl Iterator<Item = f64> {
        let used: Vec<(usize, f64)> =
            shares.iter().copied().enumerate().filter(|(_, share)| *share > 0.0).collect();
        self.rows().map(move |row| used.iter().map(|(point, share)| row[*point] * share).sum())
    }

    fn objective(&self, shares: &[f64]) -> f64 {
        let total: f64 = shares.iter().sum();
        self.densities(shares).map(f64::ln).sum::<f64>() - self.cells() * total
    }

    fn at(&self, shares: &[f64]) -> State {
        let inverses: Vec<f64> = self.densities(shares).map(f64::recip).collect();
        let mut ratios = vec![0.0; self.points];
        for (row, inverse) in self.rows().zip(&inverses) {
            for (ratio, likelihood) in ratios.iter_mut().zip(row) {
                *ratio += likelihood * inverse;
            }
        }
        let steepest = ratios.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = shares.iter().sum();
        // With shares that sum to `total` every density is `total` times too large.
        let shortfall = steepest * total - self.cells();
        State { objective: self.objective(shares), inverses, ratios, shortfall }
    }

    /// One round: new points where the likelihood rises, the second-order problem, and a step towards
    /// its solution that raises the objective.
    fn improve(&self, shares: &[f64], state: &State) -> Vec<f64> {
        let ratio = |point: usize| state.ratios.get(point).copied().unwrap_or(f64::NEG_INFINITY);
        let is_peak = |point: usize| {
            ratio(point) > self.cells()
                && ratio(point) >= ratio(point + 1)
                && (point == 0 || ratio(point) >= ratio(point - 1))
        };
        let used: Vec<usize> =
            (0..self.points).filter(|&point| shares[point] > 0.0 || is_peak(point)).collect();

        let mut products = vec![vec![0.0; used.len()]; used.len()];
        for (row, inverse) in self.rows().zip(&state.inverses) {
            let scaled: Vec<f64> = used.iter().map(|&point| row[point] * inverse).collect();
            for (column, a) in products.iter_mut().zip(&scaled) {
                for (product, b) in column.iter_mut().zip(&scaled) {
                    *product += a * b;
                }
            }
        }
        let slopes: Vec<f64> = used.iter().map(|&point| 2.0 * state.ratios[point] - self.cells()).collect();
        // In units of each point's own curvature, because one cell far out may outweigh all others.
        let units: Vec<f64> = (0..used.len()).map(|i| products[i][i].sqrt()).collect();
        for (row, unit) in products.iter_mut().zip(&units) {
            for (product, other) in row.iter_mut().zip(&units) {
                *product /= unit * other;
            }
        }
        let slopes: Vec<f64> = slopes.iter().zip(&units).map(|(slope, unit)| slope / unit).collect();
        let solution = least_squares_above_zero(&products, &slopes);
        let solution = solution.iter().zip(&units).map(|(value, unit)| value / unit);

        let mut part = 1.0;
        while part > 1e-9 {
            let mut next = vec![0.0; self.points];
            for (&point, target) in used.iter().zip(solution.clone()) {
                next[point] = shares[point] + part * (target - shares[point]);
            }
            if self.objective(&next) > state.objective {
                return next;
            }
            part *= 0.5;
        }
        // Rounding hides so small a gain; a step of expectation and maximisation never loses.
        shares.iter().zip(&state.ratios).map(|(share, ratio)| share * ratio / self.cells()).collect()
    }
}

/// The y ≥ 0 that minimises yᵀHy/2 − bᵀy, H small and positive semidefinite with a diagonal of ones
/// (Lawson and Hanson's active set on the normal equations).
fn least_squares_above_zero(h: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let n = b.len();
    let mut y = vec![0.0; n];
    let mut free: Vec<usize> = Vec::new();
    for _ in 0..10 * n {
        let slope = |i: usize| b[i] - h[i].iter().zip(&y).map(|(a, y)| a * y).sum::<f64>();
        let steepest = (0..n)
            .filter(|i| !free.contains(i))
            .map(|i| (i, slope(i)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|(_, slope)| *slope > 1e-9);
        let Some((enters, _)) = steepest else { break };
        free.push(enters);
        loop {
            let solution = solve(h, b, &free);
            if solution.iter().all(|value| *value > 0.0) {
                y.fill(0.0);
                for (&i, value) in free.iter().zip(solution) {
                    y[i] = value;
                }
                break;
            }
            // As far towards the solution as no value turns negative; what becomes zero leaves.
            let (leaves, part) = free
                .iter()
                .zip(&solution)
                .filter(|(_, value)| **value <= 0.0)
                .map(|(&i, value)| (i, y[i] / (y[i] - value)))
                .min_by(|a, b| a.1.total_cmp(&b.1))
                .unwrap_or((enters, 0.0));
            for (&i, value) in free.iter().zip(&solution) {
                y[i] += part * (value - y[i]);
            }
            y[leaves] = 0.0;
            free.retain(|&i| i != leaves);
        }
    }
    y
}

/// Solves the equations of the free values by Cholesky's method; H is helped off singularity.
fn solve(h: &[Vec<f64>], b: &[f64], free: &[usize]) -> Vec<f64> {
    let n = free.len();
    let mut root = vec![vec![0.0; n]; n];
    let mut x = vec![0.0; n];
    for i in 0..n {
        for j in 0..=i {
            let ridge = if i == j { 1e-12 } else { 0.0 };
            let known: f64 = (0..j).map(|k| root[i][k] * root[j][k]).sum();
            let rest = h[free[i]][free[j]] + ridge - known;
            root[i][j] = if i == j { rest.max(1e-14).sqrt() } else { rest / root[j][j] };
        }
        x[i] = (b[free[i]] - (0..i).map(|k| root[i][k] * x[k]).sum::<f64>()) / root[i][i];
    }
    for i in (0..n).rev() {
        x[i] = (x[i] - (i + 1..n).map(|k| root[k][i] * x[k]).sum::<f64>()) / root[i][i];
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(n: u32, expected: f64) -> Observation {
        Observation { n, expected }
    }

    #[test]
    fn like_cells_give_one_rate_and_shrink_to_it() {
        let cells: Vec<_> = (0..200).map(|i| cell(3 + 2 * (i % 2), 4.0)).collect();
        let prior = fit_prior(&cells).unwrap();
        assert!(
            prior.shortfall <= TOLERANCE
                && (prior.masses.iter().map(|m| m.1).sum::<f64>() - 1.0).abs() < 1e-12
        );
        let assessed = prior.assess(cell(9, 4.0)).unwrap();
        assert!((assessed.mean - 1.0).abs() < 0.05, "{assessed:?}");
        assert!(assessed.exceeds_twice < 1e-6 && (assessed.tail - 0.0213634).abs() < 1e-6);
    }

    #[test]
    fn a_few_bad_kitchens_are_seen_among_many() {
        let mut cells: Vec<_> = (0..300).map(|i| cell(4 + i % 5, 6.0)).collect();
        cells.extend((0..20).map(|i| cell(16 + i % 5, 6.0)));
        let prior = fit_prior(&cells).unwrap();
        let bad = prior.assess(cell(18, 6.0)).unwrap();
        let ordinary = prior.assess(cell(6, 6.0)).unwrap();
        assert!(bad.exceeds_twice > 0.99 && bad.lower > 2.0 && bad.mean > 2.5, "{bad:?}");
        assert!(ordinary.exceeds_twice < 0.01 && (ordinary.mean - 1.0).abs() < 0.1, "{ordinary:?}");
    }

    #[test]
    fn one_cell_far_out_does_not_stop_the_fit() {
        let mut cells: Vec<_> = (0..3000).map(|i| cell(i % 3, 1.0)).collect();
        cells.push(cell(400, 1.0));
        let prior = fit_prior(&cells).unwrap();
        assert!(prior.shortfall <= TOLERANCE, "{}", prior.shortfall);
        assert!(prior.assess(cell(400, 1.0)).unwrap().mean > 300.0);
    }

    /// Counts and expectations at the ends of what a number holds: an error that says so, or a distribution.
    #[test]
    fn wild_cells_give_an_error_or_a_distribution() {
        for (n, expected) in [(0, 1e300), (u32::MAX, 1.0), (u32::MAX, 1e9), (u32::MAX, 1e300), (3, 1e-9)] {
            let cells = [cell(n, expected), cell(u32::MAX, 1e9), cell(1, 1.0)];
            let prior = match fit_prior(&cells) {
                Ok(prior) => prior,
                Err(RepeatsError::NotSettled { shortfall, .. }) => {
                    assert!(shortfall.is_nan() || shortfall > MOST_SHORTFALL, "{cells:?} {shortfall}");
                    continue;
                }
                Err(error) => panic!("{cells:?}: {error}"),
            };
            let sum: f64 = prior.masses.iter().map(|mass| mass.1).sum();
            assert!((sum - 1.0).abs() < 1e-9 && prior.shortfall <= MOST_SHORTFALL, "{cells:?} {prior:?}");
            let assessed = prior.assess(cells[0]).unwrap();
            let all = [assessed.mean, assessed.lower, assessed.upper, assessed.tail];
            assert!(all.iter().all(|of| of.is_finite() && *of >= 0.0), "{cells:?} {assessed:?}");
        }
    }

    #[test]
    fn bad_cells_are_errors() {
        assert!(fit_prior(&[cell(1, 0.0), cell(1, 1.0)]).is_err());
        assert!(fit_prior(&[cell(1, f64::NAN), cell(1, 1.0)]).is_err());
        assert!(matches!(fit_prior(&[cell(1, 1.0)]), Err(RepeatsError::TooFew { .. })));
        let prior = fit_prior(&[cell(1, 1.0), cell(2, 1.0)]).unwrap();
        assert!(prior.assess(cell(1, -1.0)).is_err());
    }
}
