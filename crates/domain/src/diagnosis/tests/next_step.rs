//! What every advice keeps, over random readings, complaints, dangers and models.

use proptest::prelude::*;

use super::{COMBI, WAREWASHER, choice, complaint, value};
use crate::danger::Danger;
use crate::diagnosis::next_test::cautions_at;
use crate::diagnosis::{
    Advice, Case, Diagnosis, Observation, Stated, Statement, Tables, diagnose, next_test,
};
use crate::quantity::Scale;
use crate::vocabulary::Symptom;

/// A reading by its place among all that the catalogue knows, and where it lies among what may be read.
type Drawn = (f64, f64);

fn read(tables: &Tables, (which, at): Drawn) -> Observation {
    let catalogue = tables.catalogue();
    let (numbers, looks) = (&catalogue.measurements, &catalogue.inspections);
    let index =
        ((which * (numbers.len() + looks.len()) as f64) as usize).min(numbers.len() + looks.len() - 1);
    if let Some(of) = numbers.get(index) {
        if !of.judged.is_empty() {
            let choices: Vec<_> = of.judged.keys().collect();
            let judged = choices[((at * choices.len() as f64) as usize).min(choices.len() - 1)];
            return Observation::choice(of.key.clone(), judged.clone());
        }
        let (low, high) = of.range;
        let between = if of.scale == Scale::Logarithmic {
            (low.max(1e-6).ln() * (1.0 - at) + high.ln() * at).exp()
        } else {
            low * (1.0 - at) + high * at
        };
        return Observation::value(of.key.clone(), between);
    }
    let of = &looks[index - numbers.len()];
    let chosen = &of.choices[((at * of.choices.len() as f64) as usize).min(of.choices.len() - 1)];
    Observation::choice(of.key.clone(), chosen.clone())
}

fn cases() -> impl Strategy<Value = (bool, Case)> {
    let symptom = proptest::option::of(proptest::sample::select(Symptom::ALL));
    let drawn = proptest::collection::vec((0.0..1.0, 0.0..1.0), 0..8);
    (any::<bool>(), symptom, drawn).prop_map(|(is_combi, symptom, drawn)| {
        let observations = drawn.into_iter().map(|drawn| read(tables(is_combi), drawn)).collect();
        (is_combi, Case { complaint: symptom, observations, ..Case::default() })
    })
}

fn tables(is_combi: bool) -> &'static Tables {
    if is_combi { &COMBI } else { &WAREWASHER }
}

/// All that tells of a danger: in the call, by the complaint, by an answer, by a reading.
fn tell(case: &mut Case, of: usize) {
    match of {
        0..6 => {
            case.dangers.insert(Danger::ALL[of]);
        }
        6 => case.complaint = Some(Symptom::TripsSupply),
        7 => case.observations.push(choice("intake/breaker", "trips")),
        8 => case.observations.push(choice("wiring_look/board", "wet")),
        9 => case.observations.push(choice("wiring_look/connectors", "gnawed")),
        10 => case.observations.push(choice("door_switch/pump_refuses", "runs")),
        11 => case.observations.push(choice("door_switch/opening_recognised", "never")),
        _ => case.observations.push(value("dead_electrical/insulation", 0.2)),
    }
}

fn is_powered(tables: &Tables, key: &crate::text::Key) -> bool {
    tables.procedures().iter().find(|of| of.key == *key).is_none_or(|of| of.powered)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn nothing_under_power_is_advised_once_a_danger_stands((is_combi, mut case) in cases(), told in 0_usize..13) {
        let tables = tables(is_combi);
        // What is read of the dangers beside may be healthy and end one that was told by words.
        if told == 6 || told == 7 {
            case.observations.retain(|seen| !["dead_electrical", "wiring_look"].contains(&seen.key.procedure()));
        }
        tell(&mut case, told);
        let next = next_test(tables, &case);
        prop_assert!(!next.hazards.is_empty());
        match &next.advice {
            Advice::Test(test) => prop_assert!(!is_powered(tables, &test.procedure), "{}", test.procedure),
            Advice::DoAndReadAgain(again) => prop_assert!(!is_powered(tables, &again.read.procedure), "{}", again.key),
            Advice::Isolate => {}
            Advice::MendAndProve => prop_assert!(false, "it is isolated before it is mended"),
        }
        for test in &next.tests {
            prop_assert!(test.order.iter().all(|key| !is_powered(tables, key)), "{}", test.procedure);
        }
        if case.dangers.contains(&Danger::Gas) {
            prop_assert_eq!(&next.advice, &Advice::Isolate);
            prop_assert!(next.tests.is_empty());
        }
    }

    #[test]
    fn no_advice_comes_without_its_cautions((is_combi, case) in cases()) {
        let next = next_test(tables(is_combi), &case);
        match &next.advice {
            Advice::Test(test) => prop_assert!(!test.cautions.is_empty(), "{}", test.procedure),
            Advice::DoAndReadAgain(again) => prop_assert!(!again.read.cautions.is_empty(), "{}", again.key),
            Advice::Isolate => prop_assert!(!next.hazards.is_empty()),
            Advice::MendAndProve => {}
        }
        prop_assert!(next.mandatory.iter().all(|test| !test.cautions.is_empty()));
        prop_assert!(next.tests.iter().all(|test| !test.to_do.cautions.is_empty()));
        for mend in &next.mend {
            prop_assert!(!mend.cautions.is_empty(), "{:?}", mend.faults);
        }
        for hazard in &next.hazards {
            prop_assert!(!crate::work::precautions(&[hazard.danger], false).is_empty());
        }
    }

    #[test]
    fn statements_lead_with_what_is_likely((is_combi, case) in cases()) {
        leads_with_what_is_likely(&diagnose(tables(is_combi), &case))?;
    }
}

/// What is improbable comes behind what is probable, and in front only where it is said that nothing is probable.
fn leads_with_what_is_likely(diagnosis: &Diagnosis) -> Result<(), TestCaseError> {
    let statements = diagnosis.statements();
    prop_assert!(statements.windows(2).all(|pair| pair[0].probability >= pair[1].probability));
    // What most probably stands is named, if anything is probable.
    let all = diagnosis.faults.iter().chain(&diagnosis.external_states);
    if let Some(most) =
        all.max_by(|a, b| a.probability.total_cmp(&b.probability)).filter(|of| of.probability >= 0.5)
    {
        let is_named = |of: &Statement<'_>| matches!(&of.what, Stated::Faults(faults) if faults.iter().any(|fault| fault.fault == most.fault));
        prop_assert!(statements.iter().any(is_named), "{} is left out", most.title);
    }
    let mends: Vec<f64> = diagnosis.next.mend.iter().map(|mend| mend.probability).collect();
    prop_assert!(mends.windows(2).all(|pair| pair[0] >= pair[1]));
    Ok(())
}

#[test]
fn a_danger_that_is_told_ends_when_all_that_looks_for_it_reads_healthy() {
    let tripping = |observations: Vec<Observation>| {
        !next_test(&COMBI, &complaint(Symptom::TripsSupply, observations)).hazards.is_empty()
    };
    let insulation = || value("dead_electrical/insulation", 200.0);
    let looks = || vec![choice("wiring_look/connectors", "sound"), choice("wiring_look/board", "dry")];
    assert!(tripping(Vec::new()));
    assert!(tripping(vec![insulation()]));
    assert!(tripping(looks()));
    assert!(!tripping([vec![insulation()], looks()].concat()));
    assert!(tripping([vec![insulation()], looks(), vec![choice("wiring_look/board", "wet")]].concat()));
    // Of gas nothing of ours can say that it is over.
    let mut gas = complaint(Symptom::NoHeat, [vec![insulation()], looks()].concat());
    gas.dangers.insert(Danger::Gas);
    assert_eq!(next_test(&COMBI, &gas).advice, Advice::Isolate);
}

#[test]
fn every_fault_is_mended_with_cautions() {
    for tables in [&COMBI, &WAREWASHER] {
        for fault in &tables.catalogue().faults {
            assert!(!cautions_at(tables, fault.position).is_empty(), "{}", fault.key);
        }
    }
}
