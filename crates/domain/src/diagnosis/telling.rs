//! Which question of the telephone tells most: how much, on average, its answer would take from the doubt about which set of
//! faults stands.

use std::collections::BTreeMap;

use super::{Diagnosis, RankedSet};
use crate::equipment::{Fault, FaultCatalogue, Inspection};
use crate::text::Key;

/// Questions of the telephone are observations of this procedure.
const INTAKE: &str = "intake";
/// A question that tells less than this, in nats, is not worth the caller's time. Reasoned guess.
const LEAST: f64 = 0.003;

/// A question and what can be answered.
#[derive(Debug, Clone, PartialEq)]
pub struct TellingQuestion {
    pub key: Key,
    pub answers: Vec<Key>,
    /// The doubt that its answer takes away on average, in nats: mutual information of answer and set.
    pub nats: f64,
}

/// The `most` questions that tell most, the best first; what was asked already is left out.
///
/// With sets S of probability p(S) and answers a, it is H(Σ p(S) P(a|S)) − Σ p(S) H(P(a|S)), in nats, from 0 to ln of the number of
/// answers, over the sets that the diagnosis lists. Source: mutual information, Cover and Thomas, Elements of Information
/// Theory, 2.4 [from memory].
pub fn most_telling(
    faults: &FaultCatalogue,
    diagnosis: &Diagnosis,
    asked: &[Key],
    most: usize,
) -> Vec<TellingQuestion> {
    let by_key: BTreeMap<&Key, &Fault> = faults.faults.iter().map(|fault| (&fault.key, fault)).collect();
    let questions = faults.inspections.iter().filter(|inspection| inspection.key.procedure() == INTAKE);
    let mut telling: Vec<TellingQuestion> = questions
        .filter_map(|inspection| {
            let key = Key::new(inspection.key.step()).ok().filter(|key| !asked.contains(key))?;
            let nats = information(inspection, &by_key, &diagnosis.sets);
            Some(TellingQuestion { key, answers: inspection.choices.clone(), nats })
        })
        .filter(|question| question.nats >= LEAST)
        .collect();
    telling.sort_by(|one, other| other.nats.total_cmp(&one.nats));
    telling.truncate(most);
    telling
}

/// Questions that were asked, with what can be answered.
pub fn answered(faults: &FaultCatalogue, asked: &[Key]) -> Vec<TellingQuestion> {
    let of = |key: &Key| {
        let known = |inspection: &&Inspection| {
            inspection.key.procedure() == INTAKE && inspection.key.step() == key.as_str()
        };
        let inspection = faults.inspections.iter().find(known)?;
        Some(TellingQuestion { key: key.clone(), answers: inspection.choices.clone(), nats: 0.0 })
    };
    asked.iter().filter_map(of).collect()
}

fn information(inspection: &Inspection, faults: &BTreeMap<&Key, &Fault>, sets: &[RankedSet]) -> f64 {
    let all: f64 = sets.iter().map(|set| set.probability).sum();
    if all <= 0.0 {
        return 0.0;
    }
    let mut said = vec![0.0; inspection.choices.len()];
    let mut within = 0.0;
    for set in sets {
        let weight = set.probability / all;
        let answers = answers_of(inspection, faults, set);
        within += weight * entropy(&answers);
        for (sum, answer) in said.iter_mut().zip(&answers) {
            *sum += weight * answer;
        }
    }
    (entropy(&said) - within).max(0.0)
}

/// P(answer | set): each fault of the set shows its choice by itself, the first choice stands where none does, and what is true
/// is said with the inspection's own confusion.
fn answers_of(inspection: &Inspection, faults: &BTreeMap<&Key, &Fault>, set: &RankedSet) -> Vec<f64> {
    let of_set = set.faults.iter().chain(&set.external_states).filter_map(|key| faults.get(key));
    let shows: Vec<(usize, f64)> = of_set
        .flat_map(|fault| &fault.shows)
        .filter(|shows| shows.at == inspection.key)
        .filter_map(|shows| {
            let choice = inspection.choices.iter().position(|choice| *choice == shows.choice)?;
            Some((choice, shows.probability))
        })
        .collect();
    let none: f64 = shows.iter().map(|(_, probability)| 1.0 - probability).product();
    let sum: f64 = shows.iter().map(|(_, probability)| probability).sum();
    let mut true_one = vec![0.0; inspection.choices.len()];
    for (choice, probability) in &shows {
        true_one[*choice] += (1.0 - none) * probability / sum.max(f64::MIN_POSITIVE);
    }
    if let Some(sound) = true_one.first_mut() {
        *sound += none;
    }
    let mut said = vec![0.0; inspection.choices.len()];
    for (row, probability) in inspection.confusion.iter().zip(&true_one) {
        for (sum, share) in said.iter_mut().zip(row) {
            *sum += share * probability;
        }
    }
    said
}

fn entropy(shares: &[f64]) -> f64 {
    shares.iter().filter(|share| **share > 0.0).map(|share| -share * share.ln()).sum()
}

#[cfg(test)]
mod tests {
    use crate::equipment::demo_combi_faults;

    use super::*;

    fn sets(of: &[(&[&str], f64)]) -> Vec<RankedSet> {
        of.iter()
            .map(|(keys, probability)| RankedSet {
                faults: keys.iter().map(|key| Key::new(*key).unwrap()).collect(),
                external_states: Vec::new(),
                other_in: Vec::new(),
                probability: *probability,
            })
            .collect()
    }

    #[test]
    fn a_question_tells_most_where_half_the_sets_would_answer_otherwise() {
        let catalogue = demo_combi_faults();
        let by_key: BTreeMap<&Key, &Fault> =
            catalogue.faults.iter().map(|fault| (&fault.key, fault)).collect();
        let inspection =
            catalogue.inspections.iter().find(|of| of.key.as_str() == "intake/water_heard").unwrap();
        let shown_by = catalogue
            .faults
            .iter()
            .find(|fault| {
                fault.shows.iter().any(|shows| shows.at == inspection.key && shows.probability > 0.5)
            })
            .unwrap();
        let silent = catalogue
            .faults
            .iter()
            .find(|fault| fault.shows.iter().all(|shows| shows.at != inspection.key))
            .unwrap();
        let (shown_by, silent) = (shown_by.key.as_str(), silent.key.as_str());
        let of = |share: f64| {
            information(inspection, &by_key, &sets(&[(&[shown_by], share), (&[silent], 1.0 - share)]))
        };
        assert!(of(0.5) > of(0.1) && of(0.1) > of(0.01), "{} {} {}", of(0.5), of(0.1), of(0.01));
        // Nothing is learned of what is certain, and never more than the doubt that there is.
        assert!(of(1.0).abs() < 1e-12 && of(0.0).abs() < 1e-12);
        assert!(of(0.5) <= std::f64::consts::LN_2);
        assert!((entropy(&[0.5, 0.5]) - std::f64::consts::LN_2).abs() < 1e-12);
    }
}
