//! The diagnosis of a machine of which nobody has said yet which one it is: a mixture of what its kitchen has.
//!
//! Each machine of the kitchen may be the one: `P(model | call, evidence) ∝ n · P(call with this evidence | model)`, n
//! machines of the model. Each answer counts by that; faults that both models have under one key are one. Readings,
//! what comes next and the parts are those of the most probable model, and the answer says so.

use std::collections::BTreeMap;

use super::answer::{Diagnosis, Note, RankedFault, RankedSet};
use super::case::Case;
use super::evidence::{self, Evidence};
use super::posterior::{Depth, Posterior};
use super::tables::Tables;
use super::weighing::Weighing;
use super::{diagnose, identity, probabilities_to};
use crate::text::Key;

/// A model that the machine may be of.
#[derive(Clone, Copy)]
pub struct Possible<'a> {
    pub tables: &'a Tables,
    /// The same call and readings, gathered for this model.
    pub case: &'a Case,
    /// How many machines of this model the kitchen has.
    pub machines: u32,
}

/// What a model has no test for was not read at it, unless it is put down wrongly.
const READ_OF_ANOTHER_MODEL: f64 = 1e-3;

/// The answer for one of these machines, whichever it is; none if there is nothing to choose from.
pub fn diagnose_one_of(possible: &[Possible]) -> Option<Diagnosis> {
    let shares = shares(possible);
    let answers: Vec<(Diagnosis, f64)> =
        possible.iter().zip(&shares).map(|(of, share)| (diagnose(of.tables, of.case), *share)).collect();
    let likeliest = (0..answers.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b]))?;
    let mixed =
        |of: &dyn Fn(&Diagnosis) -> f64| answers.iter().map(|(of_one, share)| share * of(of_one)).sum();
    let mut models: Vec<(Key, f64)> =
        possible.iter().zip(&shares).map(|(of, share)| (of.tables.model().key.clone(), *share)).collect();
    models.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    let mut answer = answers[likeliest].0.clone();
    answer.input_sha256 =
        identity::digest(&answers.iter().map(|(of, _)| &of.input_sha256).collect::<Vec<_>>());
    answer.sets = sets(&answers);
    answer.faults = faults(&answers, |of| &of.faults);
    answer.external_states = faults(&answers, |of| &of.external_states);
    answer.machine_sound = mixed(&|of| of.machine_sound);
    answer.nothing_found = mixed(&|of| of.nothing_found);
    answer.other = mixed(&|of| of.other);
    answer.notes.insert(0, Note::WhichMachine { models });
    Some(answer)
}

/// P(it is of this model).
fn shares(possible: &[Possible]) -> Vec<f64> {
    let logs: Vec<f64> = possible.iter().map(log_weight).collect();
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weight = |log: &f64| if most.is_finite() { (log - most).exp() } else { 1.0 };
    let total: f64 = logs.iter().map(weight).sum();
    logs.iter().map(|log| weight(log) / total).collect()
}

/// Logarithm of the machines of the model and of how often one of them calls with what was told and read.
fn log_weight(of: &Possible) -> f64 {
    let told = probabilities_to(of.tables, of.case, Depth::NONE).log_evidence;
    let none = Evidence::none();
    let count = of.tables.hypotheses.len();
    let machines = Weighing::new(of.tables, &none, vec![0.0; count], 1.0, vec![1.0; count], &[]);
    let scale: f64 = machines.parts.iter().map(|part| part.log_scale).sum();
    let every = Posterior::of(&machines, Depth::NONE).z.ln() + scale;
    let taken = evidence::take(of.tables, of.case);
    let strange = taken.set_aside.iter().filter(|of_one| {
        let catalogue = of.tables.catalogue();
        !catalogue.measurements.iter().any(|known| known.key == of_one.key)
            && !catalogue.inspections.iter().any(|known| known.key == of_one.key)
    });
    f64::from(of.machines).ln() + told - every + strange.count() as f64 * READ_OF_ANOTHER_MODEL.ln()
}

fn sets(answers: &[(Diagnosis, f64)]) -> Vec<RankedSet> {
    let mut mixed: Vec<RankedSet> = Vec::new();
    for (answer, share) in answers {
        for set in &answer.sets {
            let probability = share * set.probability;
            let alike = |of: &&mut RankedSet| {
                RankedSet { probability: 0.0, ..(**of).clone() }
                    == RankedSet { probability: 0.0, ..set.clone() }
            };
            match mixed.iter_mut().find(alike) {
                Some(known) => known.probability += probability,
                None => mixed.push(RankedSet { probability, ..set.clone() }),
            }
        }
    }
    mixed.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    mixed
}

fn faults(answers: &[(Diagnosis, f64)], of: impl Fn(&Diagnosis) -> &Vec<RankedFault>) -> Vec<RankedFault> {
    let mut mixed: BTreeMap<&Key, RankedFault> = BTreeMap::new();
    let mut by_share: Vec<&(Diagnosis, f64)> = answers.iter().collect();
    by_share.sort_by(|a, b| b.1.total_cmp(&a.1));
    for (answer, share) in by_share {
        for fault in of(answer) {
            let none = || RankedFault { probability: 0.0, ..fault.clone() };
            mixed.entry(&fault.fault).or_insert_with(none).probability += share * fault.probability;
        }
    }
    let mut ranked: Vec<RankedFault> = mixed.into_values().collect();
    ranked.sort_by(|a, b| b.probability.total_cmp(&a.probability).then_with(|| a.fault.cmp(&b.fault)));
    ranked
}

#[cfg(test)]
mod tests {
    use super::super::tests::{COMBI, WAREWASHER, choice, complaint, value};
    use super::*;
    use crate::diagnosis::Observation;
    use crate::vocabulary::Symptom;

    fn of_both(combis: u32, warewashers: u32, symptom: Symptom, read: Vec<Observation>) -> Diagnosis {
        let case = complaint(symptom, read);
        let possible = |tables, machines| Possible { tables, case: &case, machines };
        diagnose_one_of(&[possible(&COMBI, combis), possible(&WAREWASHER, warewashers)]).unwrap()
    }

    fn share(of: &Diagnosis, model: &str) -> f64 {
        let Note::WhichMachine { models } = &of.notes[0] else { panic!("{:?}", of.notes) };
        models.iter().find(|(key, _)| key.as_str() == model).unwrap().1
    }

    #[test]
    fn a_machine_that_nobody_named_is_what_its_kitchen_has() {
        let alone = |machines| of_both(machines, 1, Symptom::LeaksFront, Vec::new());
        let (one, three) = (share(&alone(1), "demo_combi"), share(&alone(3), "demo_combi"));
        let odds = |p: f64| p / (1.0 - p);
        assert!((odds(three) / odds(one) - 3.0).abs() < 1e-9, "{one} {three}");
        let mixed = alone(1);
        let total: f64 = mixed.sets.iter().map(|set| set.probability).sum();
        assert!(total <= 1.0 + 1e-9 && total > 0.5, "{total}");
        let own = diagnose(&COMBI, &complaint(Symptom::LeaksFront, Vec::new()));
        let gasket = |of: &Diagnosis| {
            of.faults.iter().find(|fault| fault.fault.as_str() == "gasket_torn").unwrap().probability
        };
        assert!((gasket(&mixed) - one * gasket(&own)).abs() < 1e-9);
        assert!(matches!(mixed.notes.first(), Some(Note::WhichMachine { .. })), "{:?}", mixed.notes);
    }

    #[test]
    fn what_only_one_of_them_does_tells_which_it_is() {
        // There is no steam in a machine that washes dishes.
        let told = of_both(1, 1, Symptom::NoSteam, Vec::new());
        let untold = of_both(1, 1, Symptom::DoesNotClean, Vec::new());
        let (told, untold) = (share(&told, "demo_combi"), share(&untold, "demo_combi"));
        assert!(told > untold, "{told} {untold}");
        let read = vec![choice("steam/strength", "weak"), value("steam/time_to_steam", 300.0)];
        let read = of_both(1, 1, Symptom::Other, read);
        assert!(share(&read, "demo_combi") > 0.9, "{}", share(&read, "demo_combi"));
        assert!(diagnose_one_of(&[]).is_none());
    }
}
