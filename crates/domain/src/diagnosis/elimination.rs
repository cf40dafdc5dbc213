//! Exact sums over the shared nodes: bucket elimination, and by differentiating it backwards the
//! environment of every table at once.
//!
//! Each subsystem gives a table over the shared nodes that it touches. An entry is a dual number: the
//! weight of all fault sets of the subsystem (`all`), and the same weighted by the rate at which these
//! sets make people call (`calls`). Since rates of call add up over subsystems while weights multiply,
//! the product of dual numbers carries `Π A` and `Σ B_r Π_{s≠r} A_s` together. The evidence of the case
//! is `Z = background · all + calls` of the full product summed over the nodes.

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

    /// What the adjoint of a product is for the factor beside which these others stand.
    fn pull_back(self, adjoint: Self) -> Self {
        Self { all: adjoint.all * self.all + adjoint.calls * self.calls, calls: adjoint.calls * self.all }
    }

    /// The part of `Z` that this table entry contributes in the given environment.
    pub fn in_environment(self, environment: Self) -> f64 {
        self.all * environment.all + self.calls * environment.calls
    }
}

/// A function of some of the shared nodes, the last node of its scope running fastest.
pub(super) type Table = Vec<Dual>;

/// In which order nodes are summed out of a product of tables. It depends on their scopes alone: tables
/// with other values are summed by it again and again.
#[derive(Default)]
pub(super) struct Elimination {
    /// Entries of the tables, given ones first, then what each step leaves.
    lengths: Vec<usize>,
    steps: Vec<Step>,
    /// Tables without nodes that remain at the end.
    scalars: Vec<usize>,
}

/// One node summed out: the product of the tables that hold it.
struct Step {
    inputs: Vec<usize>,
    output: usize,
    /// By assignment of the nodes of the product, the entry of each input and, last, of the output.
    entries: Vec<u32>,
}

impl Elimination {
    /// Scopes are indices of nodes, ascending; `sizes` are those of all nodes.
    pub fn new<'s>(scopes: impl IntoIterator<Item = &'s [usize]>, sizes: &[usize]) -> Self {
        let mut scopes: Vec<Vec<usize>> = scopes.into_iter().map(<[usize]>::to_vec).collect();
        let mut open: Vec<usize> = (0..scopes.len()).collect();
        let mut steps = Vec::new();
        while let Some((node, union)) = cheapest(&scopes, &open, sizes) {
            let (inputs, rest): (Vec<usize>, Vec<usize>) =
                open.iter().partition(|index| scopes[**index].contains(&node));
            let output = scopes.len();
            scopes.push(union.iter().copied().filter(|of| *of != node).collect());
            let of_step: Vec<&[usize]> =
                inputs.iter().chain([&output]).map(|index| &scopes[*index][..]).collect();
            let entries = entries(&union, &of_step, sizes);
            open = rest;
            open.push(output);
            steps.push(Step { inputs, output, entries });
        }
        let length = |scope: &Vec<usize>| scope.iter().map(|node| sizes[*node]).product();
        Self { lengths: scopes.iter().map(length).collect(), steps, scalars: open }
    }

    /// `Z` of the product of the tables, summed over all nodes; `background` is the rate of calls that
    /// no fault makes.
    pub fn evidence(&self, tables: &[&Table], background: f64) -> f64 {
        let made = self.forward(tables);
        let result = self.scalars(tables, &made).into_iter().fold(Dual::ONE, Dual::times);
        result.all * background + result.calls
    }

    /// `Z`, and for every table the derivative of `Z` by each of its entries.
    pub fn environments(&self, tables: &[&Table], background: f64) -> (f64, Vec<Table>) {
        let made = self.forward(tables);
        let scalars = self.scalars(tables, &made);
        let mut adjoints: Vec<Table> =
            self.lengths.iter().map(|length| vec![Dual::default(); *length]).collect();
        let mut others = vec![Dual::ONE; scalars.len()];
        let result = products_of_others(&scalars, &mut others);
        for (index, others) in self.scalars.iter().zip(&others) {
            adjoints[*index][0] = others.pull_back(Dual { all: background, calls: 1.0 });
        }
        for step in self.steps.iter().rev() {
            let adjoint = std::mem::take(&mut adjoints[step.output]);
            let inputs = step.inputs(tables, &made);
            let mut factors = vec![Dual::default(); inputs.len()];
            let mut others = vec![Dual::ONE; inputs.len()];
            for entries in step.entries.chunks_exact(inputs.len() + 1) {
                for ((factor, input), entry) in factors.iter_mut().zip(&inputs).zip(entries) {
                    *factor = input[*entry as usize];
                }
                products_of_others(&factors, &mut others);
                let incoming = adjoint[entries[inputs.len()] as usize];
                for ((input, others), entry) in step.inputs.iter().zip(&others).zip(entries) {
                    adjoints[*input][*entry as usize].add(others.pull_back(incoming));
                }
            }
        }
        adjoints.truncate(tables.len());
        (result.all * background + result.calls, adjoints)
    }

    /// What the steps leave.
    fn forward(&self, tables: &[&Table]) -> Vec<Table> {
        let mut made: Vec<Table> = Vec::with_capacity(self.steps.len());
        for step in &self.steps {
            let inputs = step.inputs(tables, &made);
            let mut output = vec![Dual::default(); self.lengths[step.output]];
            for entries in step.entries.chunks_exact(inputs.len() + 1) {
                let mut product = Dual::ONE;
                for (input, entry) in inputs.iter().zip(entries) {
                    product = product.times(input[*entry as usize]);
                }
                output[entries[inputs.len()] as usize].add(product);
            }
            made.push(output);
        }
        made
    }

    fn scalars(&self, tables: &[&Table], made: &[Table]) -> Vec<Dual> {
        self.scalars.iter().map(|index| table(*index, tables, made)[0]).collect()
    }
}

impl Step {
    fn inputs<'t>(&self, tables: &[&'t Table], made: &'t [Table]) -> Vec<&'t [Dual]> {
        self.inputs.iter().map(|index| table(*index, tables, made)).collect()
    }
}

/// A given table or one that a step left.
fn table<'t>(index: usize, given: &[&'t Table], made: &'t [Table]) -> &'t [Dual] {
    given.get(index).copied().unwrap_or_else(|| &made[index - given.len()])
}

/// For each factor the product of all others; that of all of them.
fn products_of_others(factors: &[Dual], others: &mut [Dual]) -> Dual {
    let mut before = Dual::ONE;
    for (others, factor) in others.iter_mut().zip(factors) {
        *others = before;
        before = before.times(*factor);
    }
    let mut behind = Dual::ONE;
    for (others, factor) in others.iter_mut().zip(factors).rev() {
        *others = others.times(behind);
        behind = behind.times(*factor);
    }
    before
}

/// The node whose elimination makes the smallest product, with the scope of that product.
fn cheapest(scopes: &[Vec<usize>], open: &[usize], sizes: &[usize]) -> Option<(usize, Vec<usize>)> {
    let mut best: Option<(usize, usize, Vec<usize>)> = None;
    for node in 0..sizes.len() {
        let mut union: Vec<usize> = Vec::new();
        for index in open.iter().filter(|index| scopes[**index].contains(&node)) {
            union.extend(&scopes[*index]);
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

/// For all assignments of some nodes, one behind the other, the entry in a table of each scope.
fn entries(union: &[usize], scopes: &[&[usize]], sizes: &[usize]) -> Vec<u32> {
    // By node and scope, how far apart its values stand.
    let mut strides = vec![vec![0; scopes.len()]; union.len()];
    for (at, scope) in scopes.iter().enumerate() {
        let mut stride = 1;
        for node in scope.iter().rev() {
            if let Ok(digit) = union.binary_search(node) {
                strides[digit][at] = stride;
            }
            stride *= sizes[*node] as u32;
        }
    }
    let mut entries = vec![0; scopes.len()];
    for (node, strides) in union.iter().zip(&strides) {
        let before = std::mem::take(&mut entries);
        for entry in before.chunks_exact(scopes.len()) {
            for value in 0..sizes[*node] as u32 {
                entries.extend(entry.iter().zip(strides).map(|(entry, stride)| entry + value * stride));
            }
        }
    }
    entries
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(seed: &mut u64) -> f64 {
        *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (*seed >> 40) as f64 / (1u64 << 24) as f64 + 0.05
    }

    fn tables() -> Vec<Table> {
        let mut seed = 7;
        let length = |scope: &[usize]| scope.iter().map(|n| SIZES[*n]).product::<usize>();
        let mut table = |scope: &[usize]| {
            (0..length(scope)).map(|_| Dual { all: value(&mut seed), calls: value(&mut seed) }).collect()
        };
        SCOPES.iter().map(|scope| table(scope)).collect()
    }

    /// `Z` straight from its definition.
    fn by_enumeration(tables: &[Table], background: f64) -> f64 {
        let total: usize = SIZES.iter().product();
        (0..total)
            .map(|mut code| {
                let mut assignment = vec![0; SIZES.len()];
                for (node, size) in SIZES.iter().enumerate() {
                    assignment[node] = code % size;
                    code /= size;
                }
                let entries: Vec<Dual> = tables
                    .iter()
                    .zip(SCOPES)
                    .map(|(t, scope)| {
                        t[scope.iter().fold(0, |offset, n| offset * SIZES[*n] + assignment[*n])]
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
        let tables = tables();
        let borrowed: Vec<&Table> = tables.iter().collect();
        let expected = by_enumeration(&tables, 0.7);
        let evidence = Elimination::new(SCOPES, &SIZES).evidence(&borrowed, 0.7);
        assert!((evidence / expected - 1.0).abs() < 1e-13);
    }

    #[test]
    fn environments_are_derivatives() {
        let tables = tables();
        let borrowed: Vec<&Table> = tables.iter().collect();
        let (z, environments) = Elimination::new(SCOPES, &SIZES).environments(&borrowed, 0.7);
        for (index, environment) in environments.iter().enumerate() {
            for entry in 0..environment.len() {
                let mut moved = tables.clone();
                moved[index][entry].all += 1.0;
                moved[index][entry].calls += 0.5;
                // Z is linear in each entry, so a step of any size gives the derivative exactly.
                let step = Dual { all: 1.0, calls: 0.5 }.in_environment(environment[entry]);
                let expected = by_enumeration(&moved, 0.7) - z;
                assert!((step / expected - 1.0).abs() < 1e-9, "{index} {entry} {step} {expected}");
            }
        }
    }
}
