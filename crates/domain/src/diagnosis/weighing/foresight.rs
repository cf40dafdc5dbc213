use super::tensor::Places;
use super::{LocalChoice, Part, Weighing};
use crate::diagnosis::circuit::LEVELS;
use crate::diagnosis::elimination::Table;
use crate::diagnosis::evidence::grid_error;
use crate::diagnosis::likelihood::{Comparable, Seen, on_scale};
use crate::diagnosis::tables::InspectionTable;

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
    sights: Vec<Prepared<'a>>,
    outcomes: usize,
}

struct Prepared<'a> {
    count: usize,
    kind: PreparedKind<'a>,
}

enum PreparedKind<'a> {
    Number {
        /// By row of the measurement's table, the probabilities of the outcomes.
        by_row: Vec<Vec<f64>>,
        /// Where the rows stand while the subsystem is switched on, and off.
        on: Option<Box<Places<'a>>>,
        off: Option<Box<Places<'a>>>,
    },
    Choice {
        inspection: usize,
    },
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
            for (index, environment) in environment.values.iter().enumerate() {
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
            let predicted = usual_level(&table.rows[places.of(state, at)]);
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
        let prepared: Vec<Prepared<'a>> = sights
            .iter()
            .filter_map(|sight| match sight {
                Sight::Number { measurement, edges } => {
                    let table = view.table(*measurement)?;
                    let by_row =
                        table.rows.iter().map(|row| binned(weighing, *measurement, edges, usual_level(row)));
                    let places =
                        |tensor, on| Places::new(view, *measurement, false, tensor, on).map(Box::new);
                    let (on, off) = (places(&part.on, true), places(&part.off, false));
                    let kind = PreparedKind::Number { by_row: by_row.collect(), on, off };
                    Some(Prepared { count: edges.len() + 1, kind })
                }
                Sight::Choice { inspection } => {
                    let count = weighing.tables.catalogue.inspections[*inspection].choices.len();
                    Some(Prepared { count, kind: PreparedKind::Choice { inspection: *inspection } })
                }
            })
            .collect();
        let outcomes = prepared.iter().map(|sight| sight.count).product();
        Self { part, weighing, sights: prepared, outcomes }
    }

    pub fn outcomes(&self) -> usize {
        self.outcomes
    }

    /// Probabilities of all outcomes when this set stands and the part's nodes have these values.
    pub fn given(&self, set: usize, index: usize) -> Vec<f64> {
        let of = &self.weighing.tables.subsystems[self.part.subsystem];
        let view = self.weighing.tables.view(self.part.subsystem, self.part.view);
        let combination = &self.part.layout.combinations[index];
        let (tensor, at) = if combination.is_on {
            (&self.part.on, combination.on)
        } else {
            (&self.part.off, combination.off)
        };
        let unknown = of.sets[set].unknown;
        let mut numbers: Vec<(&Places, &[Vec<f64>])> = Vec::new();
        for sight in &self.sights {
            if let PreparedKind::Number { by_row, on, off } = &sight.kind
                && let Some(places) = if combination.is_on { on } else { off }
            {
                numbers.push((places, by_row));
            }
        }
        // The joint distribution of the numbers over the states, then of the choices beside it.
        let mut joint = vec![0.0; numbers.iter().map(|(_, by_row)| by_row[0].len()).product()];
        let mut total = 0.0;
        let reached: &[(u32, f64)] = if numbers.is_empty() { &[] } else { &view.reached[set] };
        for (state, probability) in reached {
            let state = *state as usize;
            let mass = probability * tensor.of(state)[at];
            if mass <= 0.0 {
                continue;
            }
            total += mass;
            let rows: Vec<&[f64]> =
                numbers.iter().map(|(places, by_row)| &by_row[places.of(state, at)][..]).collect();
            add_product(&mut joint, &rows, mass);
        }
        if numbers.is_empty() {
            joint[0] = 1.0;
        } else if total > 0.0 && !unknown {
            for value in &mut joint {
                *value /= total;
            }
        } else {
            let even = 1.0 / joint.len() as f64;
            joint.fill(even);
        }
        for sight in &self.sights {
            if let PreparedKind::Choice { inspection } = sight.kind {
                let read = self.choices(inspection, set, index, sight.count);
                joint = joint.iter().flat_map(|value| read.iter().map(move |p| value * p)).collect();
            }
        }
        joint
    }

    /// P(read each choice).
    fn choices(&self, inspection: usize, set: usize, index: usize, count: usize) -> Vec<f64> {
        let of = &self.weighing.tables.subsystems[self.part.subsystem];
        let off = &self.part.layout.combinations[index].switched_off;
        let seen = &self.weighing.tables.catalogue.inspections[inspection];
        (0..count)
            .map(|choice| {
                let weights = InspectionTable::weights(seen, choice).into();
                let local: LocalChoice = self.weighing.local_choice(inspection, weights, set, of);
                local.given(off)
            })
            .collect()
    }
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

/// Probabilities that a reading falls between the edges, given its prediction.
fn binned(weighing: &Weighing, measurement: usize, edges: &[f64], predicted: f64) -> Vec<f64> {
    let of = &weighing.tables.catalogue.measurements[measurement];
    let sigma =
        (of.usual_uncertainty.powi(2) + of.model_error.powi(2) + grid_error(&of.reads).powi(2)).sqrt();
    let (low, high) = (on_scale(of.scale, of.range.0), on_scale(of.scale, of.range.1));
    let below = |edge: f64| {
        let bound = Comparable::new(Seen::AtMost(edge), sigma, low, high).likelihood(predicted);
        bound.total()
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

/// Weights g of the thresholds of an inspection for each choice read.
pub(in crate::diagnosis) fn threshold_weights(weighing: &Weighing, inspection: usize) -> Vec<Vec<f64>> {
    let of = &weighing.tables.catalogue.inspections[inspection];
    (0..of.choices.len()).map(|choice| InspectionTable::weights(of, choice)).collect()
}
