//! The restricted likelihood of readings by unit and rater. Units are many and raters few: what is of one unit is summed up
//! alone, and equations are solved for the raters only (Henderson's, with the units absorbed).

use std::collections::{BTreeMap, BTreeSet};

use super::{Rated, Read};

/// Variances as parts of the rest's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ratios {
    pub units: f64,
    pub raters: f64,
}

impl Ratios {
    /// What is too small a standard deviation to be told from none is none.
    pub fn without_nothing(self, nothing: f64) -> Self {
        let told = |ratio: f64| if ratio.sqrt() < nothing { 0.0 } else { ratio };
        Self { units: told(self.units), raters: told(self.raters) }
    }
}

/// What one rater read of one unit.
#[derive(Debug, Clone, Copy)]
struct Cell {
    rater: usize,
    n: f64,
    sum: f64,
}

/// Who read what how often.
#[derive(Debug)]
pub(super) struct Layout {
    n: f64,
    /// What the values are told from.
    middle: f64,
    squares: f64,
    units: Vec<Vec<Cell>>,
    /// In order; a rater's place is his number in the cells.
    pub raters: Vec<u32>,
    /// Whether readings tell units from the rest.
    pub tells_units: bool,
    /// Whether readings tell raters from units and from the rest.
    pub tells_raters: bool,
}

/// With the rest's standard deviation at its best.
#[derive(Debug, Clone, Copy)]
pub(super) struct Profiled {
    pub deviance: f64,
    pub rest: f64,
    pub mean: f64,
}

/// The equations at some ratios, solved.
struct Solved {
    /// ln |H| + ln (1'H⁻¹1).
    log_determinants: f64,
    mean: f64,
    /// (y − μ)'H⁻¹(y − μ).
    squares: f64,
    /// 1'H⁻¹1.
    ones: f64,
    /// Of I + θS.
    root: Vec<Vec<f64>>,
    /// (S + I/θ)⁻¹ a and b.
    ga: Vec<f64>,
    gb: Vec<f64>,
}

impl Solved {
    /// What a rater lies from all, and the variance of its error in units of the rest's.
    fn bias(&self, place: usize, ratio: f64) -> (f64, f64) {
        let (Some(ga), Some(gb)) = (self.ga.get(place), self.gb.get(place)) else { return (0.0, 0.0) };
        let mut unit = vec![0.0; self.ga.len()];
        unit[place] = 1.0;
        (gb - self.mean * ga, ratio * solved(&self.root, &unit)[place] + ga * ga / self.ones)
    }
}

impl Layout {
    pub fn of(reads: &[Read]) -> Self {
        let raters: BTreeSet<u32> = reads.iter().map(|read| read.rater).collect();
        let raters: Vec<u32> = raters.into_iter().collect();
        let mut units: BTreeMap<u32, BTreeMap<usize, Cell>> = BTreeMap::new();
        // About the middle, so that squares of close values do not cancel.
        let middle = reads.iter().map(|read| read.value).sum::<f64>() / reads.len() as f64;
        let mut squares = 0.0;
        for read in reads {
            let rater = raters.partition_point(|rater| *rater < read.rater);
            let value = read.value - middle;
            let cells = units.entry(read.unit).or_default();
            let cell = cells.entry(rater).or_insert(Cell { rater, n: 0.0, sum: 0.0 });
            cell.n += 1.0;
            cell.sum += value;
            squares += value * value;
        }
        let units: Vec<Vec<Cell>> = units.into_values().map(|cells| cells.into_values().collect()).collect();
        let read_twice = |unit: &Vec<Cell>| unit.len() > 1 || unit[0].n > 1.0;
        let tells_units = units.len() > 1 && units.iter().any(read_twice);
        let alike = units.len() == raters.len() && units.iter().all(|unit| unit.len() == 1);
        let tells_raters = raters.len() > 1 && raters.len() < reads.len() && !(tells_units && alike);
        Self { n: reads.len() as f64, middle, squares, units, raters, tells_units, tells_raters }
    }

    /// How many spreads beside the rest's are free.
    pub fn free(&self) -> usize {
        usize::from(self.tells_units) + usize::from(self.tells_raters)
    }

    /// From roots of the ratios that are free, of either sign: first the units', then the raters'.
    pub fn ratios(&self, roots: &[f64]) -> Ratios {
        let mut roots = roots.iter().map(|root| root * root);
        let units = if self.tells_units { roots.next().unwrap_or_default() } else { 0.0 };
        let raters = if self.tells_raters { roots.next().unwrap_or_default() } else { 0.0 };
        Ratios { units, raters }
    }

    /// Readings beyond what units and raters could explain altogether: the readings less the rank of both.
    pub fn rest_degrees(&self) -> u32 {
        let units = if self.tells_units { self.units.len() } else { 0 };
        let raters = if self.tells_raters { self.raters.len() } else { 0 };
        let rank = match (units, raters) {
            (0, 0) => 1,
            (units, 0) => units,
            (0, raters) => raters,
            (units, raters) => units + raters - self.islands(),
        };
        (self.n as usize).saturating_sub(rank) as u32
    }

    /// Groups of raters that share no unit with others.
    fn islands(&self) -> usize {
        let mut island: Vec<usize> = (0..self.raters.len()).collect();
        for unit in &self.units {
            let own: BTreeSet<usize> = unit.iter().map(|cell| island[cell.rater]).collect();
            let Some(first) = own.first().copied() else { continue };
            island.iter_mut().filter(|place| own.contains(place)).for_each(|place| *place = first);
        }
        island.into_iter().collect::<BTreeSet<_>>().len()
    }

    /// −2 ln of the restricted likelihood, but for a constant, with the rest at its best.
    pub fn profiled(&self, ratios: Ratios) -> Profiled {
        let solved = self.solve(ratios);
        let degrees = self.n - 1.0;
        let variance = (solved.squares / degrees).max(f64::MIN_POSITIVE);
        Profiled {
            deviance: degrees * (variance.ln() + 1.0) + solved.log_determinants,
            rest: variance.sqrt(),
            mean: self.middle + solved.mean,
        }
    }

    /// The same with the rest's standard deviation given.
    pub fn deviance(&self, ratios: Ratios, rest: f64) -> f64 {
        let solved = self.solve(ratios);
        2.0 * (self.n - 1.0) * rest.ln() + solved.squares / (rest * rest) + solved.log_determinants
    }

    pub fn rated(&self, ratios: Ratios, rest: f64) -> Vec<Rated> {
        let solved = self.solve(ratios);
        let rated = self.raters.iter().enumerate().map(|(place, rater)| {
            let cells = || self.units.iter().flatten().filter(|cell| cell.rater == place);
            let (bias, variance) = solved.bias(place, ratios.raters);
            Rated {
                rater: *rater,
                readings: cells().map(|cell| cell.n as u32).sum(),
                units: cells().count() as u32,
                bias,
                standard_error: rest * variance.max(0.0).sqrt(),
            }
        });
        rated.collect()
    }

    fn solve(&self, ratios: Ratios) -> Solved {
        let r = if ratios.raters > 0.0 { self.raters.len() } else { 0 };
        // S = W'Hᵤ⁻¹W, a = W'Hᵤ⁻¹1, b = W'Hᵤ⁻¹y, with Hᵤ what units and the rest make: a block a unit.
        let (mut s, mut a, mut b) = (vec![vec![0.0; r]; r], vec![0.0; r], vec![0.0; r]);
        let (mut ones, mut product, mut squares, mut log) = (0.0, 0.0, self.squares, 0.0);
        for unit in &self.units {
            let (n, sum) = unit.iter().fold((0.0, 0.0), |(n, sum), cell| (n + cell.n, sum + cell.sum));
            let kept = 1.0 / (1.0 + n * ratios.units);
            let drawn = ratios.units * kept;
            ones += n * kept;
            product += sum * kept;
            squares -= drawn * sum * sum;
            log -= kept.ln();
            for cell in unit.iter().filter(|_| r > 0) {
                a[cell.rater] += cell.n * kept;
                b[cell.rater] += cell.sum - drawn * cell.n * sum;
                s[cell.rater][cell.rater] += cell.n;
                for other in unit {
                    s[cell.rater][other.rater] -= drawn * cell.n * other.n;
                }
            }
        }
        // C = I + θS; |H| = |Hᵤ||C|, and (S + I/θ)⁻¹ = θC⁻¹.
        for (place, row) in s.iter_mut().enumerate() {
            for value in row.iter_mut() {
                *value *= ratios.raters;
            }
            row[place] += 1.0;
        }
        let root = factor(s);
        log += root.iter().enumerate().map(|(place, row)| 2.0 * row[place].ln()).sum::<f64>();
        let drawn = |right: &[f64]| -> Vec<f64> {
            solved(&root, right).into_iter().map(|value| ratios.raters * value).collect()
        };
        let (ga, gb) = (drawn(&a), drawn(&b));
        let ones = ones - dot(&a, &ga);
        let mean = (product - dot(&a, &gb)) / ones;
        let squares = squares - dot(&b, &gb) - mean * mean * ones;
        Solved { log_determinants: log + ones.ln(), mean, squares, ones, root, ga, gb }
    }
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(one, other)| one * other).sum()
}

/// Cholesky's lower root of a symmetric matrix whose eigenvalues are one or more.
fn factor(matrix: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let mut root = matrix;
    for i in 0..root.len() {
        for j in 0..=i {
            let rest = root[i][j] - dot(&root[i][..j], &root[j][..j]);
            root[i][j] = if i == j { rest.max(f64::MIN_POSITIVE).sqrt() } else { rest / root[j][j] };
        }
    }
    root
}

/// x of LL'x = b.
fn solved(root: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let mut x = right.to_vec();
    for i in 0..x.len() {
        x[i] = (x[i] - dot(&root[i][..i], &x[..i])) / root[i][i];
    }
    for i in (0..x.len()).rev() {
        let known: f64 = (i + 1..x.len()).map(|k| root[k][i] * x[k]).sum();
        x[i] = (x[i] - known) / root[i][i];
    }
    x
}
