//! The ideal observer of tier A: who knows how the cases are drawn and computes from it, by enumeration.
//!
//! Nothing here is the engine's. Predictions come from the simulator's own circuit; severities are summed
//! one by one, spreads on fine even grids; an inspection is weighed by its definition for each whole
//! set. Whole sets over all subsystems are enumerated outright: all of up to two things, and then ever
//! larger ones about those that are not hopeless.

mod blocks;
mod inspections;
mod reading;
mod wash_runs;

use std::collections::{BTreeSet, HashMap};

use domain::equipment::{FaultCatalogue, Model, Parameter, Reads, Subsystem, Switch};
use domain::text::Key;
use domain::vocabulary::Symptom;
use simulator::cases::catalogue::circuit::{Circuit, State};
use simulator::cases::catalogue::{CALLS_OF_THE_UNKNOWN, CatalogueCase, MISNAMED, OF_ANY_KIND};

use crate::labelled::{Label, Naming, Truth};
use blocks::{Blocks, Outputs};
use inspections::Look;
use wash_runs::WashRuns;

/// What can stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Thing {
    /// Index into the catalogue's faults.
    Fault(usize),
    /// Something of a subsystem that nobody described.
    Unknown(Subsystem),
}

impl Thing {
    fn subsystem(self, catalogue: &FaultCatalogue) -> Subsystem {
        match self {
            Self::Fault(fault) => catalogue.faults[fault].subsystem,
            Self::Unknown(subsystem) => subsystem,
        }
    }
}

pub struct Ideal<'a> {
    catalogue: &'a FaultCatalogue,
    circuit: Circuit<'a>,
    things: Vec<Thing>,
    /// λ·d, by thing.
    odds: Vec<f64>,
    sound: State,
    nominal_voltage: f64,
    runs: WashRuns,
}

/// What it says of one case.
#[derive(Debug, Clone)]
pub struct Said {
    pub top: f64,
    pub right: bool,
    pub log_truth: f64,
}

/// Sets this far below the best so far are not made larger.
const HOPELESS: f64 = 1e-4;
const MOST: usize = 7;

impl<'a> Ideal<'a> {
    /// `None` if the model lacks a part of the circuit.
    pub fn new(model: &'a Model, catalogue: &'a FaultCatalogue) -> Option<Self> {
        let circuit = Circuit::new(model)?;
        let of_machine = |subsystem: &Subsystem| {
            catalogue.faults.iter().any(|fault| fault.subsystem == *subsystem && !fault.is_external())
        };
        let unknown: Vec<Subsystem> = Subsystem::ALL.into_iter().filter(of_machine).collect();
        let share = catalogue.other_share / (1.0 - catalogue.other_share);
        let of_unknown =
            catalogue.calls_per_year() * share / unknown.len().max(1) as f64 / CALLS_OF_THE_UNKNOWN;
        let possible = catalogue.faults.iter().enumerate().filter(|(_, fault)| fault.odds() > 0.0);
        let (mut things, mut odds): (Vec<Thing>, Vec<f64>) =
            possible.map(|(index, fault)| (Thing::Fault(index), fault.odds())).unzip();
        odds.extend(unknown.iter().map(|_| of_unknown));
        things.extend(unknown.into_iter().map(Thing::Unknown));
        let mut parameters = [1.0; Parameter::COUNT];
        parameters[Parameter::OpenElements as usize] = 0.0;
        parameters[Parameter::DoorLeak as usize] = 0.0;
        let own = catalogue.measurements.iter().map(|measurement| match measurement.reads {
            Reads::Own { healthy, .. } => healthy,
            _ => 0.0,
        });
        let sound = State {
            parameters,
            own: own.collect(),
            pressure_bar: catalogue.spreads.site_pressure_bar,
            voltage: 1.0,
            level_l: circuit.sump.full_l,
            allowed: 1.0,
        };
        let nominal_voltage = model.reference.supply_voltage_v;
        Some(Self { catalogue, circuit, things, odds, sound, nominal_voltage, runs: WashRuns::default() })
    }

    pub fn judge(&self, case: &CatalogueCase, truth: &Truth, naming: &Naming) -> Said {
        let mut weights = Weights::new(self, case);
        let mut known: HashMap<Vec<usize>, f64> = HashMap::new();
        let true_set = self.set_of(truth);
        let weight = weights.of(&true_set);
        known.insert(true_set, weight);
        let mut of_size = vec![Vec::new()];
        for size in 0..=MOST {
            for set in &of_size {
                if !known.contains_key(set) {
                    let weight = weights.of(set);
                    known.insert(set.clone(), weight);
                }
            }
            let best_of_all = known.values().copied().fold(0.0, f64::max);
            let best = of_size.iter().map(|set| known[set]).fold(0.0, f64::max);
            if size >= 2 && best < HOPELESS * best_of_all {
                break;
            }
            let least = if size < 2 { 0.0 } else { HOPELESS * best_of_all };
            let mut larger = BTreeSet::new();
            for set in of_size.iter().filter(|set| known[*set] >= least) {
                for thing in (0..self.things.len()).filter(|thing| !set.contains(thing)) {
                    let mut set = set.clone();
                    set.push(thing);
                    set.sort_unstable();
                    larger.insert(set);
                }
            }
            of_size = larger.into_iter().collect();
        }
        let total: f64 = known.values().sum();
        let mut labels: HashMap<Label, f64> = HashMap::new();
        for (set, weight) in &known {
            *labels.entry(naming.of_truth(&self.truth_of(set))).or_default() += weight / total;
        }
        let truth = naming.of_truth(truth);
        let log_truth = labels.get(&truth).copied().unwrap_or(0.0).max(1e-12).ln();
        let top = labels.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or_default();
        Said { top: top.1, right: top.0 == truth, log_truth }
    }

    fn set_of(&self, truth: &Truth) -> Vec<usize> {
        let stands = |thing: &Thing| match thing {
            Thing::Fault(fault) => truth.faults.contains(&self.catalogue.faults[*fault].key),
            Thing::Unknown(subsystem) => truth.other_in.contains(subsystem),
        };
        (0..self.things.len()).filter(|thing| stands(&self.things[*thing])).collect()
    }

    fn truth_of(&self, set: &[usize]) -> Truth {
        let mut truth = Truth::default();
        for thing in set {
            match self.things[*thing] {
                Thing::Fault(fault) => {
                    let key: Key = self.catalogue.faults[fault].key.clone();
                    truth.faults.insert(key);
                }
                Thing::Unknown(subsystem) => {
                    truth.other_in.insert(subsystem);
                }
            }
        }
        truth
    }

    /// Share of all calls with this complaint; one in fifty misnamed ones may be any.
    fn usual_share(&self, complaint: Symptom) -> f64 {
        let rate = |symptom: Symptom| -> f64 {
            let faults = self.catalogue.faults.iter();
            let made = faults
                .map(|fault| fault.odds() * fault.calls_while_standing() * fault.symptom_share(symptom));
            made.sum::<f64>() + self.catalogue.background(Some(symptom))
        };
        let all: f64 = Symptom::ALL.iter().map(|symptom| rate(*symptom)).sum();
        (1.0 - OF_ANY_KIND) * rate(complaint) / all + OF_ANY_KIND / Symptom::ALL.len() as f64
    }

    /// Calls with the complaint that nothing and that each thing makes, per year: what nobody described is
    /// complained of like everything.
    fn complained_of(&self, complaint: Symptom) -> (f64, Vec<f64>) {
        let usual = self.usual_share(complaint);
        let named = |calls: f64, made: f64| (1.0 - MISNAMED) * made + MISNAMED * calls * usual;
        let of = |thing: &Thing| match thing {
            Thing::Fault(fault) => {
                let fault = &self.catalogue.faults[*fault];
                let calls = fault.calls_while_standing();
                named(calls, calls * fault.symptom_share(complaint))
            }
            Thing::Unknown(_) => CALLS_OF_THE_UNKNOWN * usual,
        };
        let without = &self.catalogue.calls_without_fault;
        let background = named(without.per_year, self.catalogue.background(Some(complaint)));
        (background, self.things.iter().map(of).collect())
    }
}

/// `P(set, call, readings)` up to a factor, for one case.
struct Weights<'a, 'b> {
    ideal: &'a Ideal<'b>,
    background: f64,
    calls: Vec<f64>,
    looks: Vec<Look>,
    /// Looks that follow switches.
    following: Vec<Look>,
    blocks: Blocks<'a, 'b>,
}

impl<'a, 'b> Weights<'a, 'b> {
    fn new(ideal: &'a Ideal<'b>, case: &CatalogueCase) -> Self {
        let looks = Look::all(ideal.catalogue, &ideal.things, case);
        let (following, looks) = looks.into_iter().partition(|look| !look.follows.is_empty());
        let (background, calls) = ideal.complained_of(case.complaint);
        Self { ideal, background, calls, looks, following, blocks: Blocks::new(ideal, case) }
    }

    fn of(&mut self, set: &[usize]) -> f64 {
        let calls = self.background + set.iter().map(|thing| self.calls[*thing]).sum::<f64>();
        let odds: f64 = set.iter().map(|thing| self.ideal.odds[*thing]).product();
        let looks: f64 = self.looks.iter().map(|look| look.given(set, |_| false)).product();
        let following = &self.following;
        let numbers = self.blocks.numbers(set, |Outputs { fill, wash, heat }, door| {
            let off = |switch: Switch| match switch {
                Switch::FillOutput => !fill,
                Switch::WashOutput => !wash,
                Switch::HeatOutput => !heat,
                Switch::DoorMade => !door,
                Switch::WashPowered => !(wash && door),
            };
            following.iter().map(|look| look.given(set, off)).product()
        });
        calls * odds * looks * numbers
    }
}
