//! Exact sums over the shared nodes: bucket elimination, and by differentiating it backwards the
//! environment of every table at once.
//!
//! Each subsystem gives a table over the shared nodes that it touches. An entry is a dual number: the
//! weight of all fault sets of the subsystem (`all`), and the same weighted by the rate at which these
//! sets make people call (`calls`). Since rates of call add up over subsystems while weights multiply,
//! the product of dual numbers carries `Π A` and `Σ B_r Π_{s≠r} A_s` together. The evidence of the case
//! is `Z = background · all + calls` of the full product summed over the nodes.

use std::borrow::Cow;

/// A weight and the same weight times a rate of call.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Dual {
    pub all: f64,
    pub calls: f64,
}

impl Dual {
    pub const ONE: Self = Self { all: 1.0, calls: 0.0 };

    fn times(self, other: Self) -> Self {
        Self { all: self.all * other.all, calls: self.all * other.calls + self.calls * other.all }
    }

    fn add(&mut self, other: Self) {
        self.all += other.all;
        self.calls += other.calls;
    }

    /// The part of `Z` that this table entry contributes in the given environment.
    pub fn in_environment(self, environment: Self) -> f64 {
        self.all * environment.all + self.calls * environment.calls
    }
}

/// A function of some of the shared nodes, the last node of the scope running fastest.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table {
    /// Indices of nodes, ascending.
    pub scope: Vec<usize>,
    pub values: Vec<Dual>,
}

/// `Z` of the product of the tables, summed over all nodes; `background` is the rate of calls that no
/// fault makes.
pub(super) fn evidence(tables: &[&Table], sizes: &[usize], background: f64) -> f64 {
    let run = Run::forward(tables, sizes);
    run.result.all * background + run.result.calls
}

/// `Z`, and for every table the derivative of `Z` by each of its entries.
pub(super) fn environments(tables: &[&Table], sizes: &[usize], background: f64) -> (f64, Vec<Table>) {
    let run = Run::forward(tables, sizes);
    let z = run.result.all * background + run.result.calls;
    (z, run.backward(Dual { all: background, calls: 1.0 }))
}

/// One elimination: the tables that held the node, the scope of their product, and which of its
/// positions is summed out.
struct Step {
    inputs: Vec<usize>,
    union: Vec<usize>,
    eliminated: usize,
    output: usize,
}

struct Run<'a> {
    tables: Vec<Cow<'a, Table>>,
    steps: Vec<Step>,
    /// Tables without nodes that remain at the end.
    scalars: Vec<usize>,
    sizes: &'a [usize],
    given: usize,
    result: Dual,
}

impl<'a> Run<'a> {
    fn forward(given: &[&'a Table], sizes: &'a [usize]) -> Self {
        let mut tables: Vec<Cow<'a, Table>> = given.iter().map(|table| Cow::Borrowed(*table)).collect();
        let mut open: Vec<usize> = (0..tables.len()).collect();
        let mut steps = Vec::new();
        while let Some((node, union)) = cheapest(&tables, &open, sizes) {
            let (inputs, rest): (Vec<usize>, Vec<usize>) =
                open.iter().partition(|index| tables[**index].scope.contains(&node));
            let eliminated = union.iter().position(|n| *n == node).unwrap_or_default();
            let step = Step { inputs, union, eliminated, output: tables.len() };
            let product = sum_product(&tables, &step, sizes);
            tables.push(Cow::Owned(product));
            open = rest;
            open.push(step.output);
            steps.push(step);
        }
        let result = open.iter().fold(Dual::ONE, |product, index| product.times(tables[*index].values[0]));
        Self { tables, steps, scalars: open, sizes, given: given.len(), result }
    }

    fn backward(self, seed: Dual) -> Vec<Table> {
        let mut adjoints: Vec<Vec<Dual>> =
            self.tables.iter().map(|table| vec![Dual::default(); table.values.len()]).collect();
        let scalars: Vec<Dual> = self.scalars.iter().map(|index| self.tables[*index].values[0]).collect();
        for (position, index) in self.scalars.iter().enumerate() {
            adjoints[*index][0] = pull_back(seed, &scalars, position);
        }
        for step in self.steps.iter().rev() {
            let adjoint = std::mem::take(&mut adjoints[step.output]);
            let mut odometer = Odometer::new(step, &self.tables, self.sizes);
            let mut factors = vec![Dual::default(); step.inputs.len()];
            loop {
                for (slot, factor) in factors.iter_mut().enumerate() {
                    *factor = self.tables[step.inputs[slot]].values[odometer.offsets[slot]];
                }
                let incoming = adjoint[odometer.output_offset()];
                for slot in 0..factors.len() {
                    let outgoing = pull_back(incoming, &factors, slot);
                    adjoints[step.inputs[slot]][odometer.offsets[slot]].add(outgoing);
                }
                if !odometer.advance() {
                    break;
                }
            }
        }
        let scopes = self.tables.into_iter().take(self.given).map(|table| table.scope.clone());
        scopes.zip(adjoints).map(|(scope, values)| Table { scope, values }).collect()
    }
}

/// The adjoint of one factor of a product of dual numbers.
fn pull_back(adjoint: Dual, factors: &[Dual], position: usize) -> Dual {
    let mut others = Dual::ONE;
    for (index, factor) in factors.iter().enumerate() {
        if index != position {
            others = others.times(*factor);
        }
    }
    Dual { all: adjoint.all * others.all + adjoint.calls * others.calls, calls: adjoint.calls * others.all }
}

/// The node whose elimination makes the smallest product, with the scope of that product.
fn cheapest(tables: &[Cow<'_, Table>], open: &[usize], sizes: &[usize]) -> Option<(usize, Vec<usize>)> {
    let mut best: Option<(usize, usize, Vec<usize>)> = None;
    for node in 0..sizes.len() {
        let mut union: Vec<usize> = Vec::new();
        for index in open.iter().filter(|index| tables[**index].scope.contains(&node)) {
            union.extend(&tables[*index].scope);
        }
        if union.is_empty() {
            continue;
        }
        union.sort_unstable();
        union.dedup();
        let cost = union.iter().map(|n| sizes[*n]).product();
        if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
            best = Some((cost, node, union));
        }
    }
    best.map(|(_, node, union)| (node, union))
}

fn sum_product(tables: &[Cow<'_, Table>], step: &Step, sizes: &[usize]) -> Table {
    let scope: Vec<usize> =
        step.union.iter().enumerate().filter(|(at, _)| *at != step.eliminated).map(|(_, n)| *n).collect();
    let length = scope.iter().map(|n| sizes[*n]).product();
    let mut values = vec![Dual::default(); length];
    let mut odometer = Odometer::new(step, tables, sizes);
    loop {
        let mut product = Dual::ONE;
        for (slot, input) in step.inputs.iter().enumerate() {
            product = product.times(tables[*input].values[odometer.offsets[slot]]);
        }
        values[odometer.output_offset()].add(product);
        if !odometer.advance() {
            return Table { scope, values };
        }
    }
}

/// Walks all assignments of a union scope, with the offset of the current one in each input and in the
/// output.
struct Odometer {
    digits: Vec<usize>,
    sizes: Vec<usize>,
    /// Per digit, the strides in the inputs and, last, in the output.
    strides: Vec<Vec<usize>>,
    offsets: Vec<usize>,
}

impl Odometer {
    fn new(step: &Step, tables: &[Cow<'_, Table>], sizes: &[usize]) -> Self {
        let digits = vec![0; step.union.len()];
        let mut strides = vec![vec![0; step.inputs.len() + 1]; step.union.len()];
        for (slot, input) in step.inputs.iter().enumerate() {
            let mut stride = 1;
            for node in tables[*input].scope.iter().rev() {
                if let Ok(digit) = step.union.binary_search(node) {
                    strides[digit][slot] = stride;
                }
                stride *= sizes[*node];
            }
        }
        let mut stride = 1;
        for digit in (0..step.union.len()).rev().filter(|digit| *digit != step.eliminated) {
            strides[digit][step.inputs.len()] = stride;
            stride *= sizes[step.union[digit]];
        }
        let offsets = vec![0; step.inputs.len() + 1];
        Self { digits, sizes: step.union.iter().map(|n| sizes[*n]).collect(), strides, offsets }
    }

    fn output_offset(&self) -> usize {
        self.offsets[self.offsets.len() - 1]
    }

    fn advance(&mut self) -> bool {
        for digit in (0..self.digits.len()).rev() {
            self.digits[digit] += 1;
            if self.digits[digit] < self.sizes[digit] {
                for (offset, stride) in self.offsets.iter_mut().zip(&self.strides[digit]) {
                    *offset += stride;
                }
                return true;
            }
            self.digits[digit] = 0;
            for (offset, stride) in self.offsets.iter_mut().zip(&self.strides[digit]) {
                *offset -= stride * (self.sizes[digit] - 1);
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(seed: &mut u64) -> f64 {
        *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (*seed >> 40) as f64 / (1u64 << 24) as f64 + 0.05
    }

    fn tables(sizes: &[usize], scopes: &[&[usize]]) -> Vec<Table> {
        let mut seed = 7;
        scopes
            .iter()
            .map(|scope| {
                let length = scope.iter().map(|n| sizes[*n]).product::<usize>();
                let values =
                    (0..length).map(|_| Dual { all: value(&mut seed), calls: value(&mut seed) }).collect();
                Table { scope: scope.to_vec(), values }
            })
            .collect()
    }

    /// `Z` straight from its definition.
    fn by_enumeration(tables: &[Table], sizes: &[usize], background: f64) -> f64 {
        let total: usize = sizes.iter().product();
        (0..total)
            .map(|mut code| {
                let mut assignment = vec![0; sizes.len()];
                for (node, size) in sizes.iter().enumerate() {
                    assignment[node] = code % size;
                    code /= size;
                }
                let entries: Vec<Dual> = tables
                    .iter()
                    .map(|t| {
                        t.values[t.scope.iter().fold(0, |offset, n| offset * sizes[*n] + assignment[*n])]
                    })
                    .collect();
                let product: f64 = entries.iter().map(|e| e.all).product();
                let rate: f64 = entries.iter().map(|e| e.calls / e.all).sum();
                product * (background + rate)
            })
            .sum()
    }

    const SIZES: [usize; 4] = [3, 2, 4, 2];
    const SCOPES: [&[usize]; 6] = [&[0], &[0, 1], &[1, 2, 3], &[2], &[0, 3], &[]];

    #[test]
    fn elimination_equals_enumeration() {
        let tables = tables(&SIZES, &SCOPES);
        let borrowed: Vec<&Table> = tables.iter().collect();
        let expected = by_enumeration(&tables, &SIZES, 0.7);
        assert!((evidence(&borrowed, &SIZES, 0.7) / expected - 1.0).abs() < 1e-13);
    }

    #[test]
    fn environments_are_derivatives() {
        let tables = tables(&SIZES, &SCOPES);
        let borrowed: Vec<&Table> = tables.iter().collect();
        let (z, environments) = environments(&borrowed, &SIZES, 0.7);
        for (index, environment) in environments.iter().enumerate() {
            for entry in 0..environment.values.len() {
                let mut moved = tables.clone();
                moved[index].values[entry].all += 1.0;
                moved[index].values[entry].calls += 0.5;
                // Z is linear in each entry, so a step of any size gives the derivative exactly.
                let step = Dual { all: 1.0, calls: 0.5 }.in_environment(environment.values[entry]);
                let expected = by_enumeration(&moved, &SIZES, 0.7) - z;
                assert!((step / expected - 1.0).abs() < 1e-9, "{index} {entry} {step} {expected}");
            }
        }
    }
}
