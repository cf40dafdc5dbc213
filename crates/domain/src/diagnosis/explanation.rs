//! Which reading speaks for what: predicted against read under the leading sets, and how probably it
//! is misread.

use super::answer::{Expected, ExplainedReading, Note, ReadAs};
use super::case::Case;
use super::elimination::Table;
use super::evidence::{ChoiceEvidence, NumberEvidence, from_scale};
use super::likelihood::Seen;
use super::node::Node;
use super::posterior::{Posterior, ProbableSet};
use super::tables::InspectionTable;
use super::weighing::{ReadingUnderSet, Weighing};
use crate::equipment::{ObservationKey, Subsystem};
use crate::quantity::QuantityKind;

/// A set counts as leading from this probability, or if it is the first.
const LEADING: f64 = 0.05;
const MOST_LEADING: usize = 4;
/// How many standard deviations to either side hold about 95 in 100.
const COVERAGE: f64 = 2.0;

pub(super) fn readings(weighing: &Weighing, posterior: &Posterior, case: &Case) -> Vec<ExplainedReading> {
    let leading = leading(weighing, posterior);
    let mut explained: Vec<ExplainedReading> = Vec::new();
    for (at, number) in weighing.evidence.numbers.iter().enumerate() {
        let under: Vec<(f64, Option<ReadingUnderSet>)> = leading
            .iter()
            .map(|(set, environments)| (set.probability, number_under(weighing, set, environments, at)))
            .collect();
        let misread = |under: Option<ReadingUnderSet>| under.map(|under| under.misread);
        let under_each: Vec<(f64, Option<f64>)> =
            under.iter().map(|(p, under)| (*p, misread(*under))).collect();
        let expected = under.first().and_then(|(_, under)| *under);
        let unit = Unit::of(weighing, case, number);
        explained.push(ExplainedReading {
            observations: number.from.clone(),
            key: case.observations[number.from[0]].key.clone(),
            title: title(weighing, &case.observations[number.from[0]].key),
            read: read_as(weighing, number, &unit),
            expected: expected
                .map_or(Expected::Anything, |under| expected_number(weighing, number, &under, &unit)),
            unit: unit.code,
            misread: mean(&under_each),
            unexplained: unexplained(&under_each),
        });
    }
    for choice in &weighing.evidence.choices {
        let under: Vec<(&ProbableSet, Vec<f64>)> = leading
            .iter()
            .map(|(set, environments)| (*set, true_choices(weighing, choice, set, environments)))
            .collect();
        let inspection = &weighing.tables.catalogue.inspections[choice.inspection];
        let misread = |truth: &[f64]| {
            let joint: Vec<f64> = truth.iter().zip(&choice.given).map(|(p, given)| p * given).collect();
            let total: f64 = joint.iter().sum();
            if total > 0.0 { 1.0 - joint[choice.choice] / total } else { 1.0 }
        };
        let within = weighing.tables.inspections[choice.inspection].within;
        let under_each: Vec<(f64, Option<f64>)> = under
            .iter()
            .map(|(set, truth)| {
                (set.probability, is_described(weighing, set, within).then(|| misread(truth)))
            })
            .collect();
        let expected = under.first().map(|(_, truth)| {
            inspection.choices.iter().cloned().zip(truth.iter().copied()).collect::<Vec<_>>()
        });
        explained.push(ExplainedReading {
            observations: choice.from.clone(),
            key: inspection.key.clone(),
            title: title(weighing, &inspection.key),
            unit: String::new(),
            read: ReadAs::Choice(inspection.choices[choice.choice].clone()),
            expected: expected.map_or(Expected::Anything, Expected::Choices),
            misread: mean(&under_each),
            unexplained: unexplained(&under_each),
        });
    }
    explained.sort_by(|a, b| a.observations.cmp(&b.observations));
    explained
}

/// What the procedure calls the step, and which statistic of it; the key where no procedure has it.
fn title(weighing: &Weighing, key: &ObservationKey) -> String {
    let mut names = key.as_str().split('/').skip(1);
    let (step, statistic) = (names.next().unwrap_or_default(), names.next());
    let procedure = weighing.tables.procedures.iter().find(|of| of.key.as_str() == key.procedure());
    let of_procedure = procedure.and_then(|of| of.steps.iter().find(|of| of.key.as_str() == step));
    let title = of_procedure.map_or_else(|| step.replace('_', " "), |step| step.title.to_string());
    statistic.map_or_else(|| title.clone(), |statistic| format!("{title}, {}", statistic.replace('_', " ")))
}

/// What the readings as a whole give cause to say.
pub(super) fn notes(explained: &[ExplainedReading]) -> Vec<Note> {
    let keys = |of: &dyn Fn(&ExplainedReading) -> bool| {
        explained.iter().filter(|reading| of(reading)).map(|reading| reading.key.clone()).collect::<Vec<_>>()
    };
    let mut notes = Vec::new();
    let unexplained = keys(&|reading| reading.unexplained);
    // Readings of which now one, now another must be wrong.
    let doubtful = keys(&|reading| !reading.unexplained && reading.misread > 0.2);
    if doubtful.len() > 1 || (!doubtful.is_empty() && !unexplained.is_empty()) {
        notes.push(Note::Contradiction { keys: unexplained.iter().chain(&doubtful).cloned().collect() });
    }
    if !unexplained.is_empty() {
        notes.push(Note::Unexplained { keys: unexplained });
    }
    notes
}

/// The most probable sets, and the most probable of those that are described throughout if none of them is: that
/// something undescribed would explain a reading explains nothing.
fn leading<'a>(weighing: &Weighing, posterior: &'a Posterior) -> Vec<(&'a ProbableSet, Vec<Table>)> {
    let ranked = posterior.sets.iter().enumerate();
    let is_leading =
        |rank: usize, set: &ProbableSet| rank == 0 || (rank < MOST_LEADING && set.probability >= LEADING);
    let mut leading: Vec<&ProbableSet> =
        ranked.filter(|(rank, set)| is_leading(*rank, set)).map(|(_, set)| set).collect();
    if !leading.iter().any(|set| is_described(weighing, set, None)) {
        leading.extend(posterior.sets.iter().find(|set| is_described(weighing, set, None)));
    }
    leading.into_iter().map(|set| (set, environments_of(weighing, set))).collect()
}

/// Whether a set says all that stands in a subsystem, or, without one, everywhere.
fn is_described(weighing: &Weighing, set: &ProbableSet, within: Option<Subsystem>) -> bool {
    weighing.parts.iter().zip(&set.sets).all(|(part, set)| {
        let of = &weighing.tables.subsystems[part.subsystem];
        !of.sets[*set].unknown || within.is_some_and(|within| within != of.subsystem)
    })
}

/// On average of the leading sets; what something undescribed would show is no slip.
fn mean(under: &[(f64, Option<f64>)]) -> f64 {
    let total: f64 = under.iter().map(|(probability, _)| probability).sum();
    if total > 0.0 {
        under.iter().map(|(probability, value)| probability * value.unwrap_or(0.0)).sum::<f64>() / total
    } else {
        0.0
    }
}

/// By the described sets alone.
fn unexplained(under: &[(f64, Option<f64>)]) -> bool {
    let mut described = under.iter().filter_map(|(_, misread)| *misread).peekable();
    described.peek().is_some() && described.all(|misread| misread > 0.5)
}

/// The environments of all parts when exactly this set stands.
fn environments_of(weighing: &Weighing, set: &ProbableSet) -> Vec<Table> {
    let tables: Vec<Table> =
        weighing.parts.iter().zip(&set.sets).map(|(part, set)| part.table(|index| index == *set)).collect();
    weighing.environments(&tables).1
}

/// `None` if something undescribed stands in the subsystem.
fn number_under(
    weighing: &Weighing,
    set: &ProbableSet,
    environments: &[Table],
    number: usize,
) -> Option<ReadingUnderSet> {
    let subsystem = weighing.evidence.numbers[number].subsystem;
    let at = weighing.parts.iter().position(|part| part.subsystem == subsystem)?;
    if weighing.tables.subsystems[subsystem].sets[set.sets[at]].unknown {
        return None;
    }
    let readings = weighing.parts[at].readings_under(weighing, set.sets[at], &environments[at]);
    readings.into_iter().find(|(of, _)| *of == number).map(|(_, under)| under)
}

/// The unit in which a reading is told: the one in which it was read.
struct Unit {
    quantity: QuantityKind,
    code: String,
}

impl Unit {
    fn of(weighing: &Weighing, case: &Case, number: &NumberEvidence) -> Self {
        let quantity = weighing.tables.catalogue.measurements[number.measurement].quantity;
        let as_read = number.from.iter().find_map(|index| case.observations[*index].unit.clone());
        let code = as_read.filter(|code| quantity.from_canonical(1.0, code).is_ok());
        Self { quantity, code: code.unwrap_or_else(|| quantity.canonical_unit().to_owned()) }
    }

    /// What lies beyond what nature allows of the quantity stays as it is.
    fn tell(&self, canonical: f64) -> f64 {
        self.quantity.from_canonical(canonical, &self.code).unwrap_or(canonical)
    }
}

fn read_as(weighing: &Weighing, number: &NumberEvidence, unit: &Unit) -> ReadAs {
    let scale = weighing.tables.catalogue.measurements[number.measurement].scale;
    let back = |value: f64| unit.tell(from_scale(scale, value));
    match number.comparable.seen {
        Seen::Exactly(value) => ReadAs::Value(back(value)),
        Seen::AtLeast(value) => ReadAs::AtLeast(back(value)),
        Seen::AtMost(value) => ReadAs::AtMost(back(value)),
        Seen::Between(low, high) => ReadAs::Between(back(low), back(high)),
    }
}

fn expected_number(
    weighing: &Weighing,
    number: &NumberEvidence,
    under: &ReadingUnderSet,
    unit: &Unit,
) -> Expected {
    if under.without_value > 0.5 {
        return Expected::NoValue;
    }
    let scale = weighing.tables.catalogue.measurements[number.measurement].scale;
    let deviation = (under.deviation.powi(2) + number.comparable.sigma.powi(2)).sqrt();
    let told = |value: f64| unit.tell(from_scale(scale, value));
    Expected::Range {
        low: told(under.mean - COVERAGE * deviation),
        middle: told(under.mean),
        high: told(under.mean + COVERAGE * deviation),
    }
}

/// P(true choice) under a set, before it is read.
fn true_choices(
    weighing: &Weighing,
    seen: &ChoiceEvidence,
    set: &ProbableSet,
    environments: &[Table],
) -> Vec<f64> {
    let table: &InspectionTable = &weighing.tables.inspections[seen.inspection];
    let choices = weighing.tables.catalogue.inspections[seen.inspection].choices.len();
    let mut cumulative: Vec<f64> = (0..choices).map(|choice| table.up_to(&set.members, choice)).collect();
    for (node, factors) in &table.follows {
        let off = probability_off(weighing, set, environments, *node);
        for (value, factor) in cumulative.iter_mut().zip(factors) {
            *value *= 1.0 - off + off * factor;
        }
    }
    let mut before = 0.0;
    cumulative
        .into_iter()
        .map(|up_to| {
            let probability = (up_to - before).max(0.0);
            before = up_to;
            probability
        })
        .collect()
}

/// P(a switch is off) under a set.
fn probability_off(weighing: &Weighing, set: &ProbableSet, environments: &[Table], node: Node) -> f64 {
    let Some(at) = weighing.parts.iter().position(|part| {
        weighing.tables.subsystems[part.subsystem].holds(node) && part.scope.contains(&node.index())
    }) else {
        return 0.0;
    };
    let part = &weighing.parts[at];
    let stride: usize = part
        .scope
        .iter()
        .skip_while(|of| **of != node.index())
        .skip(1)
        .map(|of| weighing.sizes[*of])
        .product();
    let table = part.table(|index| index == set.sets[at]);
    let (mut off, mut total) = (0.0, 0.0);
    for (index, (value, environment)) in table.iter().zip(&environments[at]).enumerate() {
        let mass = value.in_environment(*environment);
        total += mass;
        if (index / stride).is_multiple_of(Node::FillOutput.size()) {
            off += mass;
        }
    }
    if total > 0.0 { off / total } else { 0.0 }
}
