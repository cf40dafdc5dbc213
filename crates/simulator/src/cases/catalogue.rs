//! Tier A: cases drawn from the catalogue's own model.
//!
//! A machine stands with each fault with the odds λ·d; faults of the catalogue's share that nobody
//! described arise in each subsystem alike. Each standing fault makes the kitchen call at its rate κ,
//! and the call is complained of as the fault that made it is, one in ten as any other call. Severities
//! follow their weights, units and sites their spreads; numbers are read with the error of the reading
//! and of the model, and some are misread, as their measurement says; inspections show the worst that
//! any fault puts them to and are read through their confusion matrix.

pub mod circuit;
mod draw;

pub use draw::{
    CALLS_OF_THE_UNKNOWN, MISNAMED, OF_ANY_KIND, PATIENCE, POURED, UNKNOWN_LEAVES_AS_IT_IS, UNKNOWN_SHOWS,
    UNKNOWN_SHOWS_ON_A_PART,
};

use std::collections::BTreeSet;

use domain::equipment::{FaultCatalogue, Model, ObservationKey};
use domain::text::Key;
use domain::vocabulary::Symptom;
use serde::Serialize;

use crate::random::Random;

/// One reading or answer in the canonical unit of its quantity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Observation {
    pub key: ObservationKey,
    pub seen: Seen,
    /// Water in the sump when a wash run began, as it was read, L, and the run's length, s.
    pub level_before_l: Option<f64>,
    pub run_s: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    Value(f64),
    AtLeast(f64),
    Choice(String),
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CatalogueCase {
    pub model: String,
    pub complaint: Symptom,
    /// The whole checklist, and the questions of the intake that were asked.
    pub observations: Vec<Observation>,
    pub truth: Vec<Standing>,
    /// Which of the endless cases it is.
    pub number: u64,
}

/// A fault that stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Standing {
    /// `None`: something of the subsystem that nobody described.
    pub fault: Option<String>,
    pub subsystem: domain::equipment::Subsystem,
    /// Index into the severities of its first dimension; 0 if it has none.
    pub level: usize,
}

/// Endless cases. Each draws from its own stream, so that case n is the same however many are drawn.
pub struct CatalogueCases<'a> {
    source: draw::Source<'a>,
    seed: u64,
    next: u64,
}

impl<'a> CatalogueCases<'a> {
    /// `None` if the model does not describe the circuit that the catalogue speaks of: a fill, a sump, a
    /// wash pump, a drain and a heater.
    pub fn new(seed: u64, model: &'a Model, catalogue: &'a FaultCatalogue) -> Option<Self> {
        Some(Self { source: draw::Source::new(model, catalogue)?, seed, next: 0 })
    }

    /// The same machine in the same kitchen, read anew once these faults are mended; the `time`th time.
    pub fn again(&self, case: &CatalogueCase, mended: &BTreeSet<Key>, time: u64) -> CatalogueCase {
        let mut readings = Random::new(self.seed ^ AGAIN.wrapping_mul(time), case.number);
        self.source.again(&mut Random::new(self.seed, case.number), &mut readings, case.number, mended)
    }
}

/// Parts the readings of another day from those of the call.
const AGAIN: u64 = 0x9E37_79B9_7F4A_7C15;

impl Iterator for CatalogueCases<'_> {
    type Item = CatalogueCase;

    fn next(&mut self) -> Option<CatalogueCase> {
        let number = self.next;
        let mut random = Random::new(self.seed, number);
        self.next += 1;
        Some(self.source.case(&mut random, number))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::equipment::{Fault, demo_combi, demo_combi_faults, demo_warewasher, demo_warewasher_faults};
    use std::collections::BTreeMap;

    fn combi(seed: u64) -> CatalogueCases<'static> {
        CatalogueCases::new(seed, demo_combi(), demo_combi_faults()).unwrap()
    }

    #[test]
    fn faults_stand_behind_calls_as_the_prior_says() {
        let catalogue = demo_combi_faults();
        let n = 20_000;
        let mut counts: BTreeMap<Option<String>, f64> = BTreeMap::new();
        let mut none = 0.0;
        for case in combi(1).take(n) {
            none += if case.truth.is_empty() { 1.0 } else { 0.0 };
            for standing in case.truth {
                *counts.entry(standing.fault).or_default() += 1.0;
            }
        }
        // P(H | call) ∝ (κ₀ + Σκ)·Πλd over independent faults, summed by hand over all other faults
        let present = |odds: f64| odds / (1.0 + odds);
        let calls = |fault: &Fault| fault.calls_while_standing();
        let rates: f64 = catalogue.faults.iter().map(|fault| present(fault.odds()) * calls(fault)).sum();
        let share = catalogue.other_share / (1.0 - catalogue.other_share);
        let all = catalogue.calls_without_fault.per_year + rates * (1.0 + share);
        for fault in &catalogue.faults {
            let p = present(fault.odds());
            let others = all - p * calls(fault);
            let expected = p * (calls(fault) + others) / all;
            let found = counts.get(&Some(fault.key.as_str().to_owned())).copied().unwrap_or(0.0) / n as f64;
            let error = libm::sqrt(expected * (1.0 - expected) / n as f64);
            // a share of the undescribed faults is not in this sum: a fiftieth of slack
            assert!(
                (found - expected).abs() < 4.5 * error + 0.02 * expected,
                "{} {found} {expected}",
                fault.key
            );
        }
        assert!((0.005..0.3).contains(&(none / n as f64)), "{none}");
    }

    #[test]
    fn callers_also_complain_of_what_nothing_there_is_known_for() {
        let catalogue = demo_combi_faults();
        let without = |symptom| catalogue.background(Some(symptom));
        let (mut found, mut expected) = (0.0, 0.0);
        for case in combi(5).take(8000) {
            let [Standing { fault: Some(key), .. }] = case.truth.as_slice() else { continue };
            let fault = catalogue.fault(key).unwrap();
            let unknown = |symptom| fault.symptom_share(symptom) == 0.0 && without(symptom) == 0.0;
            // One in ten, of those that are made of anything.
            let usual = |symptom: &Symptom| catalogue.usual_share(*symptom);
            expected += Symptom::ALL.iter().filter(|of| unknown(**of)).map(usual).sum::<f64>() / 10.0;
            found += if unknown(case.complaint) { 1.0 } else { 0.0 };
        }
        assert!(
            expected > 50.0 && (found - expected).abs() < 4.5 * libm::sqrt(expected),
            "{found} {expected}"
        );
    }

    #[test]
    fn only_a_cycle_that_ends_shows_its_heating_and_its_last_water() {
        let mut seen = [0; 2];
        for case in combi(3).take(300) {
            let find = |key: &str| case.observations.iter().find(|of| of.key.as_str() == key);
            let outcome = find("full_cycle/outcome").unwrap();
            let stopped = outcome.seen == Seen::Choice("stopped".into());
            for key in ["full_cycle/time_to_first_stage", "full_cycle/ph"] {
                assert_eq!(find(key).is_none(), stopped, "{key}");
            }
            seen[usize::from(stopped)] += 1;
        }
        assert!(seen.iter().all(|count| *count > 30), "{seen:?}");
    }

    #[test]
    fn what_is_mended_reads_right_again_and_what_is_not_does_not() {
        let cases = combi(11);
        let dead =
            |case: &CatalogueCase| case.truth.iter().any(|of| of.fault.as_deref() == Some("wash_motor_dead"));
        let case = combi(11).find(|case| dead(case) && case.truth.len() == 2).unwrap();
        let flow = |case: &CatalogueCase| {
            let find = case.observations.iter().find(|of| of.key.as_str() == "wash_flow_hold/strength");
            find.map(|of| of.seen.clone()).unwrap()
        };
        let none = Seen::Choice("none".into());
        assert_eq!(flow(&case), none);
        let as_it_was = cases.again(&case, &BTreeSet::new(), 1);
        assert_eq!((as_it_was.truth.len(), flow(&as_it_was)), (2, none.clone()));
        let mended = cases.again(&case, &BTreeSet::from([Key::new("wash_motor_dead").unwrap()]), 1);
        assert_eq!(mended.truth.len(), 1);
        assert_ne!(flow(&mended), none);
    }

    #[test]
    fn a_case_is_the_same_however_many_are_drawn() {
        let third = combi(9).nth(2).unwrap();
        assert_eq!(combi(9).take(5).nth(2).unwrap(), third);
        let bytes = |seed| serde_json::to_string(&combi(seed).take(50).collect::<Vec<_>>()).unwrap();
        assert_eq!(bytes(4), bytes(4));
        assert_ne!(bytes(4), bytes(5));
    }

    #[test]
    fn readings_are_finite_and_of_the_catalogue() {
        for (model, catalogue) in
            [(demo_combi(), demo_combi_faults()), (demo_warewasher(), demo_warewasher_faults())]
        {
            for case in CatalogueCases::new(2, model, catalogue).unwrap().take(3000) {
                for observation in &case.observations {
                    match &observation.seen {
                        Seen::Value(value) | Seen::AtLeast(value) => {
                            assert!(value.is_finite(), "{observation:?}");
                        }
                        Seen::Choice(_) => {}
                    }
                }
                assert!(case.observations.len() > 25);
            }
        }
    }
}
