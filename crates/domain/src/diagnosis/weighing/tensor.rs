use crate::diagnosis::circuit::{LEVELS, place};
use crate::diagnosis::evidence::NumberEvidence;
use crate::diagnosis::node::Node;
use crate::diagnosis::tables::{OwnedNode, View};

/// What the states of a subsystem make of the evidence: by state and combination of some nodes.
#[derive(Default)]
pub(super) struct Tensor {
    pub nodes: Vec<Node>,
    pub size: usize,
    /// Of all states, or of one that stands for all: while the subsystem is switched off they can be alike.
    pub values: Vec<f64>,
}

/// Values of a tensor that are multiplied by all readings before the next are.
const BLOCK: usize = 2048;

/// The likelihood of one reading under each different prediction.
pub(super) struct RowLikelihoods {
    /// Index into the evidence's numbers.
    pub number: usize,
    pub measurement: usize,
    /// By row, or by row and node of the filled volume: what is predicted, on the scale, and how likely
    /// the reading then is.
    pub predicted: Vec<f64>,
    pub totals: Vec<f64>,
    /// The part of each total that a misread has.
    pub misread: Vec<f64>,
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
        let place_in = |row: &[f64], [(low, of_low), (high, of_high)]: [(usize, f64); 2]| {
            // An end of the grid stands alone, so that what is infinite beyond it does no harm.
            let above = if of_high > 0.0 { of_high * row[high] } else { 0.0 };
            of_low * row[low] + above
        };
        let predicted = if table.by_level {
            // Loops: iterators of iterators are several times slower here.
            let mut predicted = Vec::with_capacity(levels.len() * table.predictions.len() / table.width);
            for row in table.rows() {
                for level in &levels {
                    predicted.push(place_in(row, *level));
                }
            }
            predicted
        } else {
            table.predictions.clone()
        };
        let (mut totals, mut misread) =
            if table.is_stretch { number.totals_of_stretches(&predicted) } else { number.totals(&predicted) };
        let predicted = if table.is_stretch { middles(&predicted) } else { predicted };
        // Taken out, so that the product over many readings stays within the range of numbers.
        let largest = totals.iter().copied().fold(0.0, f64::max);
        let inverse = 1.0 / largest;
        for value in totals.iter_mut().chain(&mut misread) {
            *value *= inverse;
        }
        Some(Self {
            number: at,
            measurement: number.measurement,
            predicted,
            totals,
            misread,
            per_row: levels.len(),
            unknown: number.under_the_unknown * inverse,
            log_scale: largest.ln(),
        })
    }
}

/// Of stretches given by their ends.
fn middles(ends: &[f64]) -> Vec<f64> {
    let middle = |ends: &[f64]| f64::midpoint(ends[0], ends[1]);
    ends.chunks_exact(2).map(middle).collect()
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
        for owned in tensor.owned(view, needed, on) {
            for (state, values) in tensor.values.chunks_exact_mut(size).enumerate() {
                owned.multiply(values, state);
            }
        }
        let places: Vec<(Places, &[f64])> = likelihoods
            .iter()
            .filter_map(|of| {
                let places = Places::new(view, of.measurement, of.per_row > 1, &tensor, on)?;
                Some((places, &of.totals[..]))
            })
            .collect();
        // Block by block, all readings of one before the next, so that it stays in the nearest cache.
        let block = (BLOCK / size).max(1);
        for (at, values) in tensor.values.chunks_mut(block * size).enumerate() {
            for (places, by_row) in &places {
                places.multiply(values, size, at * block, by_row);
            }
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
        let mut single = Self { nodes: nodes.to_vec(), size, values: vec![1.0; size] };
        let owned = single.owned(view, needed, true);
        for (state, probability) in reached {
            single.values.fill(1.0);
            for owned in &owned {
                owned.multiply(&mut single.values, *state as usize);
            }
            for (mean, value) in mean.iter_mut().zip(&single.values) {
                *mean += probability * value;
            }
        }
        mean
    }

    /// The nodes that the subsystem owns, as far as they are needed.
    fn owned<'v>(&self, view: &'v View, needed: &[bool; Node::COUNT], on: bool) -> Vec<Owned<'v>> {
        let owned = view.owns.iter().filter(|own| needed[own.node.index()]);
        let of_own = |own: &'v OwnedNode| {
            let nodes: Vec<Node> = own.given.into_iter().chain([own.node]).collect();
            let (probabilities, stride) = if on { (&own.on, own.stride()) } else { (&own.off, 0) };
            Owned { probabilities, stride, offsets: self.offsets(&nodes) }
        };
        owned.map(of_own).collect()
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

/// Where the probabilities of a node that the subsystem owns stand, by combination of a tensor's nodes.
struct Owned<'a> {
    probabilities: &'a [f64],
    stride: usize,
    offsets: Vec<usize>,
}

impl Owned<'_> {
    /// Multiplies the values of one state.
    fn multiply(&self, values: &mut [f64], state: usize) {
        let of_state = &self.probabilities[state * self.stride..];
        for (value, offset) in values.iter_mut().zip(&self.offsets) {
            *value *= of_state[*offset];
        }
    }
}

/// Where the prediction of a reading stands for each state and combination of a tensor's nodes.
pub(super) struct Places<'a> {
    index: &'a [u32],
    combinations: usize,
    offsets: Vec<usize>,
    /// The tensor's nodes are those of the index, in its order.
    is_whole: bool,
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
        let (combinations, offsets) = (table.combinations(), tensor.offsets(&table.nodes));
        Some(Self {
            index: &table.index,
            combinations,
            is_whole: combinations == tensor.size && offsets.iter().copied().eq(0..tensor.size),
            offsets,
            levels: if by_level { tensor.offsets(&[Node::FilledVolume]) } else { vec![0; tensor.size] },
            per_row: if by_level { Node::FilledVolume.size() } else { 1 },
            off: (table.switched && !on).then_some(&table.off),
        })
    }

    /// Multiplies the values of some states, `first` and those behind it, by a value of each row.
    fn multiply(&self, values: &mut [f64], size: usize, first: usize, by_row: &[f64]) {
        if self.per_row > 1 || self.off.is_some() {
            for (state, values) in values.chunks_exact_mut(size).enumerate() {
                for (combination, value) in values.iter_mut().enumerate() {
                    *value *= by_row[self.of(first + state, combination)];
                }
            }
            return;
        }
        // The usual ways, kept free of branches.
        let index = &self.index[first * self.combinations..];
        if self.is_whole {
            for (value, row) in values.iter_mut().zip(index) {
                *value *= by_row[*row as usize];
            }
            return;
        }
        for (values, rows) in values.chunks_exact_mut(size).zip(index.chunks_exact(self.combinations)) {
            for (value, offset) in values.iter_mut().zip(&self.offsets) {
                *value *= by_row[rows[*offset] as usize];
            }
        }
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
