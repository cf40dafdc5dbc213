//! One case under one state of knowledge, held against the truth.

use domain::diagnosis::{Case, Tables, probabilities, probability_of_set};
use domain::text::Key;

use crate::labelled::{Label, Labelled, Naming};

/// What the engine said, and whether it was so.
#[derive(Debug, Clone)]
#[expect(clippy::struct_excessive_bools, reason = "each is a fact by itself that is counted")]
pub struct Judged {
    /// Of the most probable set.
    pub top: f64,
    pub right: bool,
    /// ln P(the true set), nat.
    pub log_truth: f64,
    /// Of every fault and external state, look-alikes as one.
    pub marginals: Vec<(Key, f64, bool)>,
    /// P(nothing at all), and whether nothing stood.
    pub nothing: (f64, bool),
    /// Several things stood.
    pub several: bool,
    /// The best decisions leave a described fault standing.
    pub missed: bool,
    /// The most probable set lacks a described fault that stands.
    pub top_lacks: bool,
    /// Parts that the best decisions fit and nothing that stands needs.
    pub needless_parts: usize,
}

/// Least probability that a logarithm is taken of.
const LEAST: f64 = 1e-12;

impl Judged {
    pub fn of(tables: &Tables, naming: &Naming, labelled: &Labelled, case: &Case) -> Self {
        let said = probabilities(tables, case);
        let truth = naming.of_truth(&labelled.truth);
        let (top, probability) =
            most_probable(said.sets.iter().map(|set| (naming.of_set(set), set.probability)));
        let in_truth = probability_of_set(tables, case, &labelled.truth.faults, &labelled.truth.other_in);
        let stands = |fault: &Key| labelled.truth.faults.contains(fault);
        let mut marginals: Vec<(Key, f64, bool)> = Vec::new();
        for (fault, probability) in &said.faults {
            let one = naming.one(fault);
            match marginals.iter_mut().find(|(key, ..)| key == one) {
                Some((_, sum, truly)) => {
                    *sum = (*sum + probability).min(1.0);
                    *truly |= stands(fault);
                }
                None => marginals.push((one.clone(), *probability, stands(fault))),
            }
        }
        let mended = mended(tables, naming, &marginals);
        let lacks = |have: &dyn Fn(&Key) -> bool| labelled.truth.faults.iter().any(|fault| !have(fault));
        let named = |fault: &Key| {
            // Beside something undescribed the readings of its subsystem say nothing.
            let subsystem = tables.catalogue().fault(fault.as_str()).map(|fault| fault.subsystem);
            let masked = subsystem.is_some_and(|of| top.contains(&format!("other in {of:?}")));
            masked || top.contains(naming.one(fault).as_str())
        };
        Self {
            top: probability,
            right: top == truth,
            log_truth: in_truth.max(LEAST).ln(),
            nothing: (said.nothing_found, truth.is_empty()),
            several: labelled.truth.faults.len() + labelled.truth.other_in.len() > 1,
            missed: lacks(&|fault| mended.contains(fault)),
            top_lacks: lacks(&named),
            needless_parts: needless_parts(tables, &mended, labelled),
            marginals,
        }
    }
}

fn most_probable(sets: impl Iterator<Item = (Label, f64)>) -> (Label, f64) {
    let mut labels: Vec<(Label, f64)> = Vec::new();
    for (label, probability) in sets {
        match labels.iter_mut().find(|(known, _)| *known == label) {
            Some((_, sum)) => *sum += probability,
            None => labels.push((label, probability)),
        }
    }
    labels.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or_default()
}

/// What is mended by the catalogue's losses: all faults whose standing costs more on average than
/// mending them needlessly.
fn mended(tables: &Tables, naming: &Naming, marginals: &[(Key, f64, bool)]) -> Vec<Key> {
    let catalogue = tables.catalogue();
    let losses = &catalogue.losses;
    catalogue
        .faults
        .iter()
        .filter(|fault| {
            let one = naming.one(&fault.key);
            let probability = marginals.iter().find(|(key, ..)| key == one).map_or(0.0, |of| of.1);
            let alike = catalogue.faults.iter().filter(|other| naming.one(&other.key) == one);
            let needless = alike.map(|other| losses.needless(other)).fold(0.0, f64::max);
            probability * losses.missed_fault_minutes > (1.0 - probability) * needless
        })
        .map(|fault| fault.key.clone())
        .collect()
}

fn needless_parts(tables: &Tables, mended: &[Key], labelled: &Labelled) -> usize {
    let parts = |faults: &mut dyn Iterator<Item = &Key>| {
        let faults = faults.filter_map(|key| tables.catalogue().fault(key.as_str()));
        let mut parts: Vec<Key> =
            faults.flat_map(|fault| fault.remedy.parts.iter().map(|need| need.part.clone())).collect();
        parts.sort_unstable();
        parts.dedup();
        parts
    };
    let needed = parts(&mut labelled.truth.faults.iter());
    parts(&mut mended.iter()).iter().filter(|part| !needed.contains(part)).count()
}
