use std::rc::Rc;

use super::tensor::{Places, Tensor};
use super::{LocalChoice, Part, Weighing};
use crate::diagnosis::circuit::LEVELS;
use crate::diagnosis::elimination::Table;
use crate::diagnosis::evidence::{UNKNOWN_LEAVES_AS_IT_IS, grid_error};
use crate::diagnosis::likelihood::{Comparable, Seen, Slips, on_scale};
use crate::diagnosis::tables::thresholds;

/// So many sights at most are weighed together.
pub(in crate::diagnosis) const MOST_SIGHTS: usize = 3;

/// One thing that a test would let be seen in a subsystem, with its different outcomes.
pub(in crate::diagnosis) enum Sight {
    Number {
        /// Index into the catalogue's measurements.
        measurement: usize,
        /// Bounds between outcomes, ascending, on the scale.
        edges: Vec<f64>,
    },
    Choice {
        /// Index into the catalogue's inspections.
        inspection: usize,
    },
}

/// Probabilities of the outcomes of some sights together, as far as one set and one combination of the
/// shared nodes tell.
pub(in crate::diagnosis) struct Foresight<'a, 'b> {
    part: &'a Part,
    weighing: &'a Weighing<'b>,
    /// While the subsystem is switched on, and off.
    on: Vec<Numbers<'a>>,
    off: Vec<Numbers<'a>>,
    choices: Vec<Choices<'a>>,
    outcomes: usize,
}

/// The outcomes of one measurement.
struct Numbers<'a> {
    count: usize,
    /// By row of the measurement's table, the probabilities of the outcomes.
    by_row: Rc<[f64]>,
    /// Those if something that nobody described stands.
    unknown: Rc<[f64]>,
    /// Where the rows stand.
    places: Places<'a>,
}

impl Numbers<'_> {
    fn of(&self, state: usize, combination: usize) -> &[f64] {
        &self.by_row[self.places.of(state, combination) * self.count..][..self.count]
    }
}

/// The outcomes of one inspection.
struct Choices<'a> {
    by_read: Vec<LocalChoice<'a>>,
}

/// What one set makes of the choices: by inspection, choice and case of switches that are off.
pub(in crate::diagnosis) struct OfSet {
    set: usize,
    choices: Vec<Vec<Vec<f64>>>,
}

impl Part {
    /// The prediction for a measurement that was not taken, on the scale, averaged over the part's most
    /// probable set and combination; `None` without a finite value.
    pub fn likeliest_prediction(
        &self,
        weighing: &Weighing,
        environment: &Table,
        measurement: usize,
    ) -> Option<f64> {
        let (mut best, mut of) = (-1.0, (0, 0));
        for (set, calls) in self.calls.iter().enumerate() {
            for (index, environment) in environment.iter().enumerate() {
                let mass =
                    self.weights[set * self.size + index] * (environment.all + calls * environment.calls);
                if mass > best {
                    (best, of) = (mass, (set, index));
                }
            }
        }
        let (set, index) = of;
        let view = weighing.tables.view(self.subsystem, self.view);
        let table = view.table(measurement)?;
        let combination = &self.layout.combinations[index];
        let (tensor, at) =
            if combination.is_on { (&self.on, combination.on) } else { (&self.off, combination.off) };
        let places = Places::new(view, measurement, false, tensor, combination.is_on)?;
        let (mut sum, mut total) = (0.0, 0.0);
        for (state, probability) in &view.reached[set] {
            let state = *state as usize;
            let row = table.row(places.of(state, at));
            let predicted = if table.is_stretch { f64::midpoint(row[0], row[1]) } else { usual_level(row) };
            let mass = probability * tensor.of(state)[at];
            if predicted.is_finite() {
                sum += mass * predicted;
                total += mass;
            }
        }
        (total > 0.0).then(|| sum / total)
    }
}

/// A row's value for the full sump that a procedure asks for.
fn usual_level(row: &[f64]) -> f64 {
    if row.len() == LEVELS.len() { row[LEVELS.len() - 1] } else { row[0] }
}

impl<'a, 'b> Foresight<'a, 'b> {
    pub fn new(weighing: &'a Weighing<'b>, part: &'a Part, sights: &[Sight]) -> Self {
        let view = weighing.tables.view(part.subsystem, part.view);
        let mut foresight =
            Self { part, weighing, on: Vec::new(), off: Vec::new(), choices: Vec::new(), outcomes: 1 };
        for sight in sights {
            let count = match sight {
                Sight::Number { measurement, edges } => {
                    let Some(table) = view.table(*measurement) else { continue };
                    let by_row: Rc<[f64]> = table
                        .rows()
                        .flat_map(|row| {
                            let (low, high) = if table.is_stretch {
                                (row[0], row[1])
                            } else {
                                (usual_level(row), usual_level(row))
                            };
                            binned(weighing, *measurement, edges, low, high)
                        })
                        .collect();
                    let count = edges.len() + 1;
                    let unknown = unknown(weighing, *measurement, edges);
                    for (numbers, tensor, is_on) in
                        [(&mut foresight.on, &part.on, true), (&mut foresight.off, &part.off, false)]
                    {
                        let places = Places::new(view, *measurement, false, tensor, is_on);
                        let (by_row, unknown) = (by_row.clone(), unknown.clone());
                        numbers.extend(places.map(|places| Numbers { count, by_row, unknown, places }));
                    }
                    count
                }
                Sight::Choice { inspection } => {
                    let weights = threshold_weights(weighing, *inspection);
                    let of_read = |weights: &Vec<f64>| weighing.local_choice(part, *inspection, weights);
                    foresight.choices.push(Choices { by_read: weights.iter().map(of_read).collect() });
                    weights.len()
                }
            };
            foresight.outcomes *= count;
        }
        foresight
    }

    pub fn outcomes(&self) -> usize {
        self.outcomes
    }

    /// What is alike for all combinations of the nodes.
    pub fn of_set(&self, set: usize) -> OfSet {
        let members = &self.weighing.tables.subsystems[self.part.subsystem].sets[set].members;
        let cases = self.part.layout.switched_off.len();
        let of_read = |read: &LocalChoice| (0..cases).map(|case| read.given(members, case)).collect();
        let choices = self.choices.iter().map(|choices| choices.by_read.iter().map(of_read).collect());
        OfSet { set, choices: choices.collect() }
    }

    /// Probabilities of all outcomes, into `joint`, when this set stands and the part's nodes have these
    /// values.
    pub fn given(&self, of_set: &OfSet, index: usize, joint: &mut Vec<f64>) {
        let of = &self.weighing.tables.subsystems[self.part.subsystem];
        let view = self.weighing.tables.view(self.part.subsystem, self.part.view);
        let combination = &self.part.layout.combinations[index];
        let (tensor, at, numbers) = if combination.is_on {
            (&self.part.on, combination.on, &self.on)
        } else {
            (&self.part.off, combination.off, &self.off)
        };
        // The joint distribution of the numbers over the states, then of the choices beside it.
        let size = numbers.iter().map(|number| number.count).product();
        joint.clear();
        if numbers.is_empty() {
            joint.push(1.0);
        } else if of.sets[of_set.set].unknown {
            joint.resize(size, 0.0);
            let mut rows: [&[f64]; MOST_SIGHTS] = [&[]; MOST_SIGHTS];
            for (row, number) in rows.iter_mut().zip(numbers) {
                *row = &number.unknown;
            }
            add_product(joint, &rows[..numbers.len()], 1.0);
        } else {
            joint.resize(size, 0.0);
            let total = over_states(&view.reached[of_set.set], tensor, at, numbers, joint);
            let even = 1.0 / size as f64;
            for value in joint.iter_mut() {
                *value = if total > 0.0 { *value / total } else { even };
            }
        }
        let switches = self.part.layout.switches(combination);
        for choices in &of_set.choices {
            let known = joint.len();
            for choice in choices.iter().skip(1) {
                let read = choice[switches];
                joint.extend_from_within(..known);
                let from = joint.len() - known;
                joint[from..].iter_mut().for_each(|value| *value *= read);
            }
            let read = choices.first().map_or(1.0, |first| first[switches]);
            joint[..known].iter_mut().for_each(|value| *value *= read);
        }
    }
}

/// Adds what each state reached makes of the numbers; their total mass.
fn over_states(
    reached: &[(u32, f64)],
    tensor: &Tensor,
    at: usize,
    numbers: &[Numbers],
    joint: &mut [f64],
) -> f64 {
    let mut total = 0.0;
    let mut rows: [&[f64]; MOST_SIGHTS] = [&[]; MOST_SIGHTS];
    for (state, probability) in reached {
        let state = *state as usize;
        let mass = probability * tensor.of(state)[at];
        if mass <= 0.0 {
            continue;
        }
        total += mass;
        for (row, number) in rows.iter_mut().zip(numbers) {
            *row = number.of(state, at);
        }
        add_product(joint, &rows[..numbers.len()], mass);
    }
    total
}

fn add_product(joint: &mut [f64], rows: &[&[f64]], mass: f64) {
    match rows {
        [a] => joint.iter_mut().zip(*a).for_each(|(joint, a)| *joint += mass * a),
        [a, rest @ ..] => {
            let stride = joint.len() / a.len();
            for (chunk, a) in joint.chunks_exact_mut(stride).zip(*a) {
                add_product(chunk, rest, mass * a);
            }
        }
        [] => {}
    }
}

/// Probabilities that a reading falls between the edges, given the ends of its prediction.
fn binned(weighing: &Weighing, measurement: usize, edges: &[f64], from: f64, to: f64) -> Vec<f64> {
    let of = &weighing.tables.catalogue.measurements[measurement];
    let sigma =
        (of.usual_uncertainty.powi(2) + of.model_error.powi(2) + grid_error(&of.reads).powi(2)).sqrt();
    let (low, high) = (on_scale(of.scale, of.range.0), on_scale(of.scale, of.range.1));
    let below = |edge: f64| {
        Comparable::new(Seen::AtMost(edge), sigma, low, high, Slips::of(of)).over(from, to).total()
    };
    let mut before = 0.0;
    let mut probabilities: Vec<f64> = edges
        .iter()
        .map(|edge| {
            let up_to = below(*edge).max(before);
            let probability = up_to - before;
            before = up_to;
            probability
        })
        .collect();
    probabilities.push((1.0 - before).max(0.0));
    probabilities
}

/// Probabilities of the outcomes if something that nobody described stands: each alike, but for a part's own
/// value, which it mostly leaves as it is.
fn unknown(weighing: &Weighing, measurement: usize, edges: &[f64]) -> Rc<[f64]> {
    let count = edges.len() + 1;
    let even = 1.0 / count as f64;
    match weighing.tables.sound[measurement].filter(|sound| sound.of_part) {
        Some(sound) => binned(weighing, measurement, edges, sound.value, sound.value)
            .into_iter()
            .map(|p| UNKNOWN_LEAVES_AS_IT_IS * p + (1.0 - UNKNOWN_LEAVES_AS_IT_IS) * even)
            .collect(),
        None => vec![even; count].into(),
    }
}

/// Weights g of the thresholds of an inspection for each choice read.
pub(in crate::diagnosis) fn threshold_weights(weighing: &Weighing, inspection: usize) -> Vec<Vec<f64>> {
    let of = &weighing.tables.inspections[inspection];
    (0..of.confusion.len()).map(|choice| thresholds(&of.given(choice))).collect()
}
