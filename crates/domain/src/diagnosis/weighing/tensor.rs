use crate::diagnosis::circuit::{LEVELS, place};
use crate::diagnosis::evidence::NumberEvidence;
use crate::diagnosis::node::Node;
use crate::diagnosis::tables::View;

/// What the states of a subsystem make of the evidence: by state and combination of some nodes.
#[derive(Default)]
pub(super) struct Tensor {
    pub nodes: Vec<Node>,
    pub size: usize,
    /// Of all states, or of one that stands for all: while the subsystem is switched off they can be alike.
    pub values: Vec<f64>,
}

/// The likelihood of one reading under each different prediction.
pub(super) struct RowLikelihoods {
    /// Index into the evidence's numbers.
    pub number: usize,
    pub measurement: usize,
    /// By row, or by row and node of the filled volume: what is predicted, on the scale, and how likely
    /// the reading then is.
    pub predicted: Vec<f64>,
    pub totals: Vec<f64>,
    /// The part of the totals that a misread has.
    pub misread: f64,
    pub per_row: usize,
    pub unknown: f64,
    /// Logarithm of the factor taken out of totals, misread and unknown.
    pub log_scale: f64,
}

impl RowLikelihoods {
    pub fn new(view: &View, at: usize, number: &NumberEvidence) -> Option<Self> {
        let table = view.table(number.measurement)?;
        let levels: Vec<[(usize, f64); 2]> = match (table.by_level, number.level) {
            (false, _) => vec![[(0, 1.0), (0, 0.0)]],
            (true, Some(level)) => vec![place(&LEVELS, level)],
            (true, None) => Node::FilledVolume.grid().iter().map(|level| place(&LEVELS, *level)).collect(),
        };
        let mut predicted = Vec::with_capacity(table.rows.len() * levels.len());
        for row in &table.rows {
            for [(low, of_low), (high, of_high)] in &levels {
                // An end of the grid stands alone, so that what is infinite beyond it does no harm.
                let above = if *of_high > 0.0 { of_high * row[*high] } else { 0.0 };
                predicted.push(of_low * row[*low] + above);
            }
        }
        let (mut totals, misread) = number.comparable.totals(&predicted);
        // Taken out, so that the product over many readings stays within the range of numbers.
        let largest = totals.iter().copied().fold(0.0, f64::max);
        let inverse = 1.0 / largest;
        for total in &mut totals {
            *total *= inverse;
        }
        Some(Self {
            number: at,
            measurement: number.measurement,
            predicted,
            totals,
            misread: misread * inverse,
            per_row: levels.len(),
            unknown: number.comparable.under_the_unknown() * inverse,
            log_scale: largest.ln(),
        })
    }
}

impl Tensor {
    /// By state: `Π P(owned nodes) · Π P(readings)` for all combinations of the nodes.
    pub fn new(
        view: &View,
        nodes: &[Node],
        needed: &[bool; Node::COUNT],
        likelihoods: &[RowLikelihoods],
        on: bool,
    ) -> Self {
        let size: usize = nodes.iter().map(|node| node.size()).product();
        let is_switched =
            |of: &RowLikelihoods| view.table(of.measurement).is_some_and(|table| table.switched);
        let states = if on || !likelihoods.iter().all(is_switched) { view.states } else { 1 };
        let mut tensor = Self { nodes: nodes.to_vec(), size, values: vec![1.0; states * size] };
        if view.owns.iter().any(|own| needed[own.node.index()]) {
            for state in 0..states {
                tensor.multiply_owned(view, needed, state, state, on);
            }
        }
        for likelihood in likelihoods {
            tensor.multiply(view, likelihood, &likelihood.totals, on);
        }
        tensor
    }

    /// The values of one state.
    pub fn of(&self, state: usize) -> &[f64] {
        let at = if self.values.len() == self.size { 0 } else { state * self.size };
        &self.values[at..at + self.size]
    }

    /// `Π P(owned nodes)` alone, as a mean over some states.
    pub fn owned_mean(
        view: &View,
        nodes: &[Node],
        needed: &[bool; Node::COUNT],
        reached: &[(u32, f64)],
        on: bool,
    ) -> Vec<f64> {
        if !on {
            return Self::new(view, nodes, needed, &[], on).values;
        }
        let size: usize = nodes.iter().map(|node| node.size()).product();
        let mut mean = vec![0.0; size];
        for (state, probability) in reached {
            let mut single = Self { nodes: nodes.to_vec(), size, values: vec![1.0; size] };
            single.multiply_owned(view, needed, *state as usize, 0, true);
            for (mean, value) in mean.iter_mut().zip(&single.values) {
                *mean += probability * value;
            }
        }
        mean
    }

    /// Multiplies the entries of one state, which stand at `at`, by the probabilities of its owned
    /// nodes.
    fn multiply_owned(
        &mut self,
        view: &View,
        needed: &[bool; Node::COUNT],
        state: usize,
        at: usize,
        on: bool,
    ) {
        for own in view.owns.iter().filter(|own| needed[own.node.index()]) {
            let of_own: Vec<Node> = own.given.into_iter().chain([own.node]).collect();
            let offsets = self.offsets(&of_own);
            let probabilities = if on { &own.on } else { &own.off };
            let of_state = &probabilities[if on { state * own.stride() } else { 0 }..];
            let values = &mut self.values[at * self.size..(at + 1) * self.size];
            for (value, offset) in values.iter_mut().zip(&offsets) {
                *value *= of_state[*offset];
            }
        }
    }

    /// Multiplies by a value of each row of a reading.
    fn multiply(&mut self, view: &View, likelihood: &RowLikelihoods, by_row: &[f64], on: bool) {
        let by_level = likelihood.per_row > 1;
        let Some(places) = Places::new(view, likelihood.measurement, by_level, self, on) else { return };
        let size = self.size;
        if by_level || places.off.is_some() {
            for (state, values) in self.values.chunks_exact_mut(size).enumerate() {
                for (combination, value) in values.iter_mut().enumerate() {
                    *value *= by_row[places.of(state, combination)];
                }
            }
            return;
        }
        // The usual ways, kept free of branches.
        let rows_of = places.index.chunks_exact(places.combinations);
        if size == places.combinations && places.offsets.iter().copied().eq(0..size) {
            for (value, row) in self.values.iter_mut().zip(places.index) {
                *value *= by_row[*row as usize];
            }
            return;
        }
        for (values, rows) in self.values.chunks_exact_mut(size).zip(rows_of) {
            for (value, offset) in values.iter_mut().zip(&places.offsets) {
                *value *= by_row[rows[*offset] as usize];
            }
        }
    }

    /// For each combination of the tensor's nodes, the offset in a table over some of them. Nodes that
    /// the tensor lacks stand at their first value: they do not matter there.
    fn offsets(&self, of: &[Node]) -> Vec<usize> {
        (0..self.size)
            .map(|combination| {
                let mut offset = 0;
                for node in of {
                    offset = offset * node.size() + digit(&self.nodes, combination, *node);
                }
                offset
            })
            .collect()
    }

    /// The mean over the states of a set.
    pub fn sum(&self, states: &[(u32, f64)]) -> Vec<f64> {
        let mut sum = Vec::new();
        self.sum_into(states, &mut sum);
        sum
    }

    /// The same into a buffer that is used again.
    pub fn sum_into(&self, states: &[(u32, f64)], sum: &mut Vec<f64>) {
        sum.clear();
        sum.resize(self.size, 0.0);
        if self.size == 0 {
            return;
        }
        if self.values.len() == self.size {
            sum.copy_from_slice(&self.values);
            return;
        }
        for (state, probability) in states {
            for (sum, value) in sum.iter_mut().zip(self.of(*state as usize)) {
                *sum += probability * value;
            }
        }
    }
}

/// Where the prediction of a reading stands for each state and combination of a tensor's nodes.
pub(super) struct Places<'a> {
    index: &'a [u32],
    combinations: usize,
    offsets: Vec<usize>,
    levels: Vec<usize>,
    per_row: usize,
    /// The rows for all states, while the subsystem is switched off.
    off: Option<&'a [u32]>,
}

impl<'a> Places<'a> {
    pub fn new(
        view: &'a View,
        measurement: usize,
        by_level: bool,
        tensor: &Tensor,
        on: bool,
    ) -> Option<Self> {
        let table = view.table(measurement)?;
        Some(Self {
            index: &table.index,
            combinations: table.combinations(),
            offsets: tensor.offsets(&table.nodes),
            levels: if by_level { tensor.offsets(&[Node::FilledVolume]) } else { vec![0; tensor.size] },
            per_row: if by_level { Node::FilledVolume.size() } else { 1 },
            off: (table.switched && !on).then_some(&table.off),
        })
    }

    pub fn of(&self, state: usize, combination: usize) -> usize {
        let offset = self.offsets[combination];
        let row = match self.off {
            Some(rows) => rows[offset],
            None => self.index[state * self.combinations + offset],
        };
        row as usize * self.per_row + self.levels[combination]
    }
}

/// The value of a node within a combination of nodes, the last running fastest; 0 if it is not one of
/// them.
fn digit(nodes: &[Node], combination: usize, node: Node) -> usize {
    let mut rest = combination;
    for other in nodes.iter().rev() {
        if *other == node {
            return rest % other.size();
        }
        rest /= other.size();
    }
    0
}
