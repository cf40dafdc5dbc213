//! Faults that the whole checklist hardly tells apart.
//!
//! Two faults are look-alikes if what each would show, standing alone, differs by less than 0.5 nat
//! over all tests: the mean of both Kullback–Leibler divergences, each test counting with its most
//! telling number and with each of its choices. To name one of the two with any confidence would be a
//! guess; they are named together.

use super::elimination::Table;
use super::evidence::Evidence;
use super::likelihood::on_scale;
use super::tables::{HypothesisKind, Tables};
use super::weighing::{Foresight, Sight, Weighing};
use crate::equipment::Reads;

/// Least distance, in nat, of faults that are told apart.
const TOLD_APART: f64 = 0.5;
/// Outcomes into which the range of a number is divided.
const OUTCOMES: usize = 30;

/// Groups of hypotheses, each of at least two.
pub(super) fn find(tables: &Tables) -> Vec<Vec<usize>> {
    // The optional second tap is left out: it would multiply the states of the fill.
    let foreseen: Vec<usize> = (0..tables.catalogue.measurements.len())
        .filter(|index| tables.catalogue.measurements[*index].reads != Reads::PressureAfterStrainer)
        .collect();
    let evidence = Evidence::none();
    let calls = vec![0.0; tables.hypotheses.len()];
    let found = vec![1.0; tables.hypotheses.len()];
    let weighing = Weighing::new(tables, &evidence, calls, 1.0, found, &foreseen);
    let faults: Vec<usize> = (0..tables.hypotheses.len())
        .filter(|index| tables.hypotheses[*index].kind != HypothesisKind::Other)
        .collect();
    let places = all_places(&weighing, &foreseen);
    let sound = Shown::new(&weighing, &places, None, None);
    let shown: Vec<Shown> =
        faults.iter().map(|fault| Shown::new(&weighing, &places, Some(*fault), Some(&sound))).collect();
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (a, fault_a) in faults.iter().enumerate() {
        for (b, fault_b) in faults.iter().enumerate().skip(a + 1) {
            if distance(&places, &shown[a].by_place, &shown[b].by_place) >= TOLD_APART {
                continue;
            }
            match groups.iter_mut().find(|group| group.contains(fault_a) || group.contains(fault_b)) {
                Some(group) => group.extend([*fault_a, *fault_b]),
                None => groups.push(vec![*fault_a, *fault_b]),
            }
        }
    }
    for group in &mut groups {
        group.sort_unstable();
        group.dedup();
    }
    groups
}

/// Something to be seen, and where.
struct Place<'a, 'b> {
    /// Index into the parts.
    part: usize,
    foresight: Foresight<'a, 'b>,
    is_number: bool,
    procedure: &'a str,
}

/// Every measurement and inspection of the tests; what is asked at the intake is no test.
fn all_places<'a, 'b>(weighing: &'a Weighing<'b>, foreseen: &[usize]) -> Vec<Place<'a, 'b>> {
    let tables = weighing.tables;
    let is_test = |procedure: &str| tables.procedures.iter().any(|of| of.key.as_str() == procedure);
    let part_of = |subsystem| {
        weighing.parts.iter().position(|part| tables.subsystems[part.subsystem].subsystem == subsystem)
    };
    let mut places = Vec::new();
    let place = |part: usize, procedure, sight: Sight| {
        let is_number = matches!(sight, Sight::Number { .. });
        let foresight = Foresight::new(weighing, &weighing.parts[part], &[sight]);
        Place { part, foresight, is_number, procedure }
    };
    for index in foreseen {
        let measurement = &tables.catalogue.measurements[*index];
        let procedure = measurement.key.procedure();
        if let (Some(part), true) = (part_of(measurement.reads.subsystem()), is_test(procedure)) {
            let (low, high) = (
                on_scale(measurement.scale, measurement.range.0),
                on_scale(measurement.scale, measurement.range.1),
            );
            let edges =
                (1..OUTCOMES).map(|edge| low + (high - low) * edge as f64 / OUTCOMES as f64).collect();
            places.push(place(part, procedure, Sight::Number { measurement: *index, edges }));
        }
    }
    for (index, table) in tables.inspections.iter().enumerate() {
        let procedure = tables.catalogue.inspections[index].key.procedure();
        if let (Some(part), true) = (table.within.and_then(part_of), is_test(procedure)) {
            places.push(place(part, procedure, Sight::Choice { inspection: index }));
        }
    }
    places
}

/// What a machine shows.
struct Shown {
    /// The outcomes' probabilities, by place.
    by_place: Vec<Vec<f64>>,
    /// By part, the set that stands there and the probabilities of the values of its nodes.
    parts: Vec<(usize, Vec<f64>)>,
}

impl Shown {
    /// With this fault alone, or with none. Where a part is as on the sound machine, so is what it
    /// shows.
    fn new(weighing: &Weighing, places: &[Place], fault: Option<usize>, sound: Option<&Self>) -> Self {
        let set_of = |subsystem: usize| {
            let sets = &weighing.tables.subsystems[subsystem].sets;
            fault.and_then(|fault| sets.iter().position(|set| set.members == [fault])).unwrap_or(0)
        };
        let alone: Vec<usize> = weighing.parts.iter().map(|part| set_of(part.subsystem)).collect();
        let tables: Vec<Table> =
            weighing.parts.iter().zip(&alone).map(|(part, set)| part.table(|index| index == *set)).collect();
        let (z, environments) = weighing.environments(&tables);
        let parts: Vec<(usize, Vec<f64>)> = alone
            .iter()
            .zip(tables.iter().zip(&environments))
            .map(|(set, (table, environment))| {
                let values = table.iter().zip(environment);
                (*set, values.map(|(value, environment)| value.in_environment(*environment) / z).collect())
            })
            .collect();
        let by_place = places
            .iter()
            .enumerate()
            .map(|(index, place)| match sound {
                Some(sound) if is_close(&sound.parts[place.part], &parts[place.part]) => {
                    sound.by_place[index].clone()
                }
                _ => shown_at(place, &parts[place.part]),
            })
            .collect();
        Self { by_place, parts }
    }
}

fn is_close(a: &(usize, Vec<f64>), b: &(usize, Vec<f64>)) -> bool {
    a.0 == b.0 && a.1.iter().zip(&b.1).all(|(a, b)| (a - b).abs() < 1e-9)
}

fn shown_at(place: &Place, (set, masses): &(usize, Vec<f64>)) -> Vec<f64> {
    let mut shown = vec![0.0; place.foresight.outcomes()];
    let (of_set, mut given) = (place.foresight.of_set(*set), Vec::new());
    for (index, mass) in masses.iter().enumerate().filter(|(_, mass)| **mass > 1e-5) {
        place.foresight.given(&of_set, index, &mut given);
        shown.iter_mut().zip(&given).for_each(|(shown, p)| *shown += mass * p);
    }
    shown
}

/// In nat.
fn distance(places: &[Place], a: &[Vec<f64>], b: &[Vec<f64>]) -> f64 {
    let mut procedures: Vec<&str> = places.iter().map(|place| place.procedure).collect();
    procedures.sort_unstable();
    procedures.dedup();
    procedures
        .into_iter()
        .map(|procedure| {
            let (mut number, mut choices) = (0.0_f64, 0.0);
            for (index, place) in places.iter().enumerate().filter(|(_, place)| place.procedure == procedure)
            {
                let apart = f64::midpoint(divergence(&a[index], &b[index]), divergence(&b[index], &a[index]));
                if place.is_number {
                    number = number.max(apart);
                } else {
                    choices += apart;
                }
            }
            number + choices
        })
        .sum()
}

/// Kullback–Leibler divergence of discrete distributions, nat.
fn divergence(p: &[f64], q: &[f64]) -> f64 {
    let sum: f64 = p.iter().zip(q).filter(|(p, _)| **p > 0.0).map(|(p, q)| p * (p / q.max(1e-12)).ln()).sum();
    sum.max(0.0)
}
