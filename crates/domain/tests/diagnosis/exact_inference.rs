//! The engine on noisy-OR networks whose exact posteriors are known from a general inference library
//! and from enumeration, once with the causes spread over subsystems and once with all in one.

use std::collections::BTreeMap;

use domain::diagnosis::{Case, Observation, Probabilities, Tables, probabilities_down_to};
use domain::equipment::{
    DAYS_PER_YEAR, Fault, FaultCatalogue, Inspection, ObservationKey, Shows, Subsystem, demo_combi,
    demo_combi_faults,
};
use domain::text::Key;

use crate::record::{Record, Records};

/// Name, leak, and the causes with the probability with which each shows.
type Effect = (&'static str, f64, &'static [(usize, f64)]);

/// P(cause), and which causes show at which effect with which probability, as in the records.
const CAUSES: [(&str, f64); 4] = [("c1", 0.05), ("c2", 0.1), ("c3", 0.02), ("c4", 0.03)];
const EFFECTS: [Effect; 5] = [
    ("e1", 0.01, &[(0, 0.9), (1, 0.6)]),
    ("e2", 0.02, &[(0, 0.3), (2, 0.8)]),
    ("e3", 0.05, &[(1, 0.7), (2, 0.5), (3, 0.1)]),
    ("e4", 0.01, &[(3, 0.95)]),
    ("e5", 0.03, &[(0, 0.4), (3, 0.6)]),
];

fn key(text: &str) -> Key {
    Key::new(text).unwrap()
}

fn effect(index: usize) -> ObservationKey {
    ObservationKey::new(format!("network/{}", EFFECTS[index].0)).unwrap()
}

/// The network as a catalogue: nobody calls because of a fault, so that causes are independent before
/// anything is seen.
fn network(subsystems: [Subsystem; 4]) -> Tables {
    let mut catalogue: FaultCatalogue = demo_combi_faults().clone();
    let template = catalogue.fault("rinse_fails").unwrap().clone();
    catalogue.calls_without_fault.per_year = 1.0;
    catalogue.other_share = 1e-14;
    catalogue.measurements.clear();
    catalogue.mandatory.clear();
    catalogue.inspections = (0..EFFECTS.len())
        .map(|index| {
            let leak = EFFECTS[index].1;
            Inspection {
                key: effect(index),
                choices: vec![key("absent"), key("present")],
                confusion: vec![vec![1.0 - leak, leak], vec![0.0, 1.0]],
                gross: Vec::new(),
                of_part: false,
                bands: None,
                follows: Vec::new(),
            }
        })
        .collect();
    catalogue.faults = (0..CAUSES.len())
        .map(|cause| Fault {
            key: key(CAUSES[cause].0),
            subsystem: subsystems[cause],
            per_year: CAUSES[cause].1 / (1.0 - CAUSES[cause].1),
            days_unmended: DAYS_PER_YEAR,
            calls_per_year: 0.0,
            symptoms: BTreeMap::new(),
            shows: shows_of(cause),
            ..template.clone()
        })
        .collect();
    Tables::compile(&catalogue, demo_combi(), &[]).unwrap()
}

fn shows_of(cause: usize) -> Vec<Shows> {
    let of_effect = |(index, (_, _, links)): (usize, &Effect)| {
        let link = links.iter().find(|(of, _)| *of == cause)?;
        Some(Shows { at: effect(index), choice: key("present"), probability: link.1 })
    };
    EFFECTS.iter().enumerate().filter_map(of_effect).collect()
}

fn posterior(tables: &Tables, seen: &[(usize, bool)]) -> Probabilities {
    let observations = seen
        .iter()
        .map(|(index, present)| {
            Observation::choice(effect(*index), key(if *present { "present" } else { "absent" }))
        })
        .collect();
    probabilities_down_to(tables, &Case { observations, ..Case::default() }, 1e-12, 100)
}

/// `{'E1': 1, 'E2': 0}` in the record's own words.
fn evidence_of(record: &Record) -> Vec<(usize, bool)> {
    let text = record.quantity();
    let Some((_, set)) = text.split_once("evidence {") else { return Vec::new() };
    let (set, _) = set.split_once('}').unwrap();
    set.split(',')
        .map(|entry| {
            let (name, value) = entry.split_once(':').unwrap();
            let index = name.trim().trim_matches('\'')[1..].parse::<usize>().unwrap() - 1;
            (index, value.trim() == "1")
        })
        .collect()
}

/// Joint probabilities of all states of the causes.
fn joint(answer: &Probabilities) -> BTreeMap<Vec<Key>, f64> {
    let described = answer.sets.iter().filter(|set| set.other_in.is_empty());
    described
        .map(|set| {
            let mut members = [set.faults.clone(), set.external_states.clone()].concat();
            members.sort();
            (members, set.probability)
        })
        .collect()
}

fn entropy(probabilities: impl Iterator<Item = f64>) -> f64 {
    probabilities.filter(|p| *p > 0.0).map(|p| -p * p.log2()).sum()
}

/// P(effect | evidence), from the evidence with and without it.
fn predictive(tables: &Tables, seen: &[(usize, bool)], index: usize) -> f64 {
    let with = [seen, &[(index, true)]].concat();
    (posterior(tables, &with).log_evidence - posterior(tables, seen).log_evidence).exp()
}

fn unseen(seen: &[(usize, bool)]) -> impl Iterator<Item = usize> + '_ {
    (0..EFFECTS.len()).filter(|index| !seen.iter().any(|(of, _)| of == index))
}

/// H(C|e) − Σ_v P(E=v|e)·H(C|e, E=v), bits.
fn information_gain(tables: &Tables, seen: &[(usize, bool)], index: usize) -> f64 {
    let given = |seen: &[(usize, bool)]| entropy(joint(&posterior(tables, seen)).into_values());
    let present = predictive(tables, seen, index);
    let with = |value: bool| given(&[seen, &[(index, value)]].concat());
    given(seen) - present * with(true) - (1.0 - present) * with(false)
}

fn compute(tables: &Tables, record: &Record) -> Vec<f64> {
    let seen = evidence_of(record);
    let answer = posterior(tables, &seen);
    let quantity = record.quantity();
    if quantity.starts_with("multi-fault") {
        return answer.faults.iter().map(|(_, probability)| *probability).collect();
    }
    if quantity.starts_with("three most probable") {
        let mut joint: Vec<f64> = joint(&answer).into_values().collect();
        joint.sort_by(|a, b| b.total_cmp(a));
        joint.truncate(3);
        joint.push((answer.log_evidence - posterior(tables, &[]).log_evidence).exp());
        return joint;
    }
    if quantity.starts_with("single-fault") {
        let joint = joint(&answer);
        let of = |members: &[Key]| joint.get(members).copied().unwrap_or(0.0);
        // The records name the causes from the last to the first.
        let ones: Vec<f64> = CAUSES.iter().rev().map(|(cause, _)| of(&[key(cause)])).collect();
        let exactly: f64 = ones.iter().sum();
        let none = of(&[]);
        let at_most = ones.iter().map(|p| p / (exactly + none));
        return [none / (exactly + none)]
            .into_iter()
            .chain(at_most)
            .chain(ones.iter().map(|p| p / exactly))
            .collect();
    }
    if quantity.starts_with("expected information gain") {
        return unseen(&seen).map(|index| information_gain(tables, &seen, index)).collect();
    }
    assert!(quantity.starts_with("entropy of the joint causes"), "{quantity}");
    let whole = entropy(joint(&answer).into_values());
    [whole].into_iter().chain(unseen(&seen).map(|index| predictive(tables, &seen, index))).collect()
}

#[test]
fn networks_of_other_libraries() {
    let records = Records::read(include_str!("../../../../tests/reference/exact_inference.json"));
    let spread = network([Subsystem::Use, Subsystem::Chemical, Subsystem::Chemical, Subsystem::Drain]);
    let gathered = network([Subsystem::Chemical; 4]);
    for record in records.all().filter(|record| ("T11-001".."T11-030").contains(&record.id())) {
        let _ = records.get(record.id());
        for tables in [&spread, &gathered] {
            record.check(&compute(tables, &record));
        }
    }
    records.leave(&["T11-031", "T11-032", "T11-033", "T11-034", "T11-035"]);
    records.all_used();
}

#[test]
fn one_fault_and_one_test() {
    let records = Records::read(include_str!("../../../../tests/reference/exact_inference.json"));
    let record = records.get("T11-031");
    let mut catalogue: FaultCatalogue = demo_combi_faults().clone();
    let (sensitivity, specificity) = (record.input("sensitivity"), record.input("specificity"));
    let template = catalogue.fault("rinse_fails").unwrap().clone();
    let prior = record.input("P_F");
    catalogue.calls_without_fault.per_year = 1.0;
    catalogue.other_share = 1e-15;
    catalogue.measurements.clear();
    catalogue.mandatory.clear();
    catalogue.inspections = vec![Inspection {
        key: effect(0),
        choices: vec![key("absent"), key("present")],
        confusion: vec![vec![specificity, 1.0 - specificity], vec![1.0 - sensitivity, sensitivity]],
        gross: Vec::new(),
        of_part: false,
        bands: None,
        follows: Vec::new(),
    }];
    catalogue.faults = vec![Fault {
        per_year: prior / (1.0 - prior),
        days_unmended: DAYS_PER_YEAR,
        calls_per_year: 0.0,
        symptoms: BTreeMap::new(),
        shows: vec![Shows { at: effect(0), choice: key("present"), probability: 1.0 }],
        ..template
    }];
    let tables = Tables::compile(&catalogue, demo_combi(), &[]).unwrap();
    let of = |present| posterior(&tables, &[(0, present)]).faults[0].1;
    record.check(&[of(true), of(false)]);
}
