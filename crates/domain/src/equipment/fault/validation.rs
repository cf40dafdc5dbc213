//! The rules that a catalogue of faults must hold, all checked, none stopping the others.

use std::collections::{BTreeMap, BTreeSet};

use super::{Change, Extent, Fault, FaultCatalogue, Inspection, MeasurementModel, Parameter, Reads, Target};
use crate::equipment::{Model, Subsystem};
use crate::violation::{Violation, Violations, token};
use crate::vocabulary::Symptom;

/// Severities that a fault of degree has at least.
const LEVELS: usize = 5;
/// Severities that a fault may have.
const MOST_LEVELS: usize = 12;
/// Members that a subsystem may have, so that all sets of four stay few enough to be summed.
const MOST_FAULTS_OF_A_SUBSYSTEM: usize = 20;

pub(super) fn validate(catalogue: &FaultCatalogue, model: &Model) -> Result<(), Vec<Violation>> {
    let mut check = Check::new(catalogue, model);
    check.head();
    check.measurements();
    check.inspections();
    for (index, fault) in catalogue.faults.iter().enumerate() {
        check.fault(&format!("/faults/{index}"), fault);
    }
    check.whole();
    check.violations.finish()
}

pub(super) fn with_own_faults(
    catalogue: &FaultCatalogue,
    own: &[Fault],
    model: &Model,
) -> Result<FaultCatalogue, Vec<Violation>> {
    let mut check = Check::new(catalogue, model);
    let mut keys = BTreeSet::new();
    for (index, fault) in own.iter().enumerate() {
        let pointer = format!("/{index}");
        check.fault(&pointer, fault);
        let is_new = keys.insert(&fault.key);
        let detail = "another fault of this list has the key already: keep one";
        check.violations.require(is_new, format!("{pointer}/key"), detail);
    }
    check.violations.finish()?;
    let mut merged = catalogue.clone();
    for fault in own {
        match merged.faults.iter_mut().find(|present| present.key == fault.key) {
            Some(present) => *present = fault.clone(),
            None => merged.faults.push(fault.clone()),
        }
    }
    merged.validate(model)?;
    Ok(merged)
}

struct Check<'a> {
    violations: Violations,
    catalogue: &'a FaultCatalogue,
    model: &'a Model,
    measurements: BTreeMap<&'a str, &'a MeasurementModel>,
    inspections: BTreeMap<&'a str, &'a Inspection>,
}

impl<'a> Check<'a> {
    fn new(catalogue: &'a FaultCatalogue, model: &'a Model) -> Self {
        Self {
            violations: Violations::new(),
            catalogue,
            model,
            measurements: catalogue.measurements.iter().map(|m| (m.key.as_str(), m)).collect(),
            inspections: catalogue.inspections.iter().map(|i| (i.key.as_str(), i)).collect(),
        }
    }

    fn positive(&mut self, pointer: &str, value: f64) {
        let holds = value.is_finite() && value > 0.0;
        self.violations.require(holds, pointer, "must be a finite number greater than 0");
    }

    fn not_negative(&mut self, pointer: &str, value: f64) {
        let holds = value.is_finite() && value >= 0.0;
        self.violations.require(holds, pointer, "must be a finite number of at least 0");
    }

    fn probability(&mut self, pointer: &str, value: f64) {
        let holds = (0.0..=1.0).contains(&value);
        self.violations.require(holds, pointer, "must be a probability from 0 to 1");
    }

    fn head(&mut self) {
        let catalogue = self.catalogue;
        self.violations.require(catalogue.version > 0, "/version", "must be at least 1");
        let speaks_of_it = catalogue.model == self.model.key;
        self.violations.require(speaks_of_it, "/model", format!("must be {}", self.model.key));
        self.positive("/calls_without_fault/per_year", catalogue.calls_without_fault.per_year);
        self.shares("/calls_without_fault/symptoms", &catalogue.calls_without_fault.symptoms);
        let share = catalogue.other_share;
        let holds = share > 0.0 && share <= 0.5;
        let detail = "must be greater than 0, or the diagnosis is sure among the wrong, and at most 0.5";
        self.violations.require(holds, "/other_share", detail);
        let losses = &catalogue.losses;
        self.positive("/losses/missed_fault_minutes", losses.missed_fault_minutes);
        self.positive("/losses/shown_by_proof_minutes", losses.shown_by_proof_minutes);
        self.positive("/losses/callback_days", losses.callback_days);
        self.not_negative("/losses/doubt_minutes", losses.doubt_minutes);
        self.positive("/losses/needless_part_minutes", losses.needless_part_minutes);
        self.positive("/losses/needless_action_minutes", losses.needless_action_minutes);
        self.not_negative("/losses/minutes_per_price", losses.minutes_per_price);
        let spreads = &catalogue.spreads;
        self.positive("/spreads/site_pressure_bar", spreads.site_pressure_bar);
        for (name, spread) in [
            ("site_pressure", spreads.site_pressure),
            ("site_voltage", spreads.site_voltage),
            ("fill_valve_kv", spreads.fill_valve_kv),
            ("pump_head", spreads.pump_head),
            ("heating_power", spreads.heating_power),
        ] {
            let holds = spread > 0.0 && spread <= 1.0;
            let detail = "must be a standard deviation of the logarithm, greater than 0 and at most 1";
            self.violations.require(holds, format!("/spreads/{name}"), detail);
        }
        let holds = (0.0..=1.0).contains(&spreads.fill_allowed);
        let detail = "must be a standard deviation of the logarithm, from 0 to 1";
        self.violations.require(holds, "/spreads/fill_allowed", detail);
    }

    fn measurements(&mut self) {
        for (index, measurement) in self.catalogue.measurements.iter().enumerate() {
            let pointer = format!("/measurements/{index}");
            self.positive(&format!("{pointer}/model_error"), measurement.model_error);
            self.positive(&format!("{pointer}/usual_uncertainty"), measurement.usual_uncertainty);
            let (low, high) = measurement.range;
            let logarithmic = measurement.scale == crate::quantity::Scale::Logarithmic;
            let holds = low.is_finite() && high.is_finite() && low < high && (!logarithmic || low > 0.0);
            let detail = "must be two finite numbers, ascending, and above 0 on a logarithmic scale";
            self.violations.require(holds, format!("{pointer}/range"), detail);
            if let Reads::Own { healthy, unpowered, subsystem } = measurement.reads {
                let within = |value: f64| (low..=high).contains(&value);
                let detail = "healthy and unpowered must lie within range";
                let holds = within(healthy) && unpowered.is_none_or(within);
                self.violations.require(holds, format!("{pointer}/reads"), detail);
                let switched = matches!(subsystem, Subsystem::Fill | Subsystem::Wash | Subsystem::Heat);
                let detail = "only fill, wash and heat are powered by the controls: leave unpowered out";
                self.violations.require(
                    unpowered.is_none() || switched,
                    format!("{pointer}/reads/own/unpowered"),
                    detail,
                );
            }
            let misread = measurement.misread;
            let holds = misread.share > 0.0 && misread.share <= 0.5 && (0.0..=1.0).contains(&misread.near);
            let detail = "must be a share of slips greater than 0 and at most 0.5, of which a share from 0 to 1 is near";
            self.violations.require(holds, format!("{pointer}/misread"), detail);
            for (choice, (low, high)) in &measurement.judged {
                let detail = "must be two numbers, ascending";
                let pointer = format!("{pointer}/judged/{}", token(choice.as_str()));
                self.violations.require(low < high, pointer, detail);
            }
            if let Some(detail) = self.lacks(&measurement.reads) {
                self.violations.add(format!("{pointer}/reads"), detail);
            }
            if self.measurements[measurement.key.as_str()] != measurement {
                self.violations
                    .add(format!("{pointer}/key"), "another measurement has the key already: keep one");
            }
        }
    }

    /// What the model must have for such a reading to be predicted.
    fn lacks(&self, reads: &Reads) -> Option<String> {
        let needs = |present: bool, what: &str| {
            (!present).then(|| format!("the model has no {what} from which this could be predicted"))
        };
        match reads {
            Reads::StaticPressure | Reads::DynamicPressure | Reads::PressureAfterStrainer => {
                needs(self.model.fill.is_some(), "fill")
            }
            Reads::FillTime => needs(self.model.fill.is_some() && self.model.sump.is_some(), "fill and sump"),
            Reads::CaughtVolume => needs(
                self.model.fill.is_some() && self.model.start_up_call.is_some(),
                "fill and start-up call",
            ),
            Reads::FilledVolume => needs(self.model.sump.is_some(), "sump"),
            Reads::FirstFlow | Reads::FirstFall | Reads::LastFifthShare => {
                needs(self.model.wash_pump.is_some() && self.model.sump.is_some(), "wash pump and sump")
            }
            Reads::MotorCurrent => {
                let has = self.model.wash_pump.is_some_and(|pump| pump.motor_current_a.is_some());
                needs(has, "current of the wash motor")
            }
            Reads::DrainTime => needs(self.model.drain.is_some() && self.model.sump.is_some(), "drain"),
            Reads::HeatingTime { stage } => needs(self.model.heater.is_some(), "heater").or_else(|| {
                let has = self.model.stage_cel(*stage).is_some();
                needs(has, &format!("{} stage in wash_stages_cel", stage.word()))
            }),
            Reads::SiteVoltage | Reads::Own { .. } => None,
        }
    }

    fn inspections(&mut self) {
        for (index, inspection) in self.catalogue.inspections.iter().enumerate() {
            let pointer = format!("/inspections/{index}");
            let count = inspection.choices.len();
            let distinct: BTreeSet<_> = inspection.choices.iter().collect();
            let holds = (2..=8).contains(&count) && distinct.len() == count;
            self.violations.require(holds, format!("{pointer}/choices"), "must be 2 to 8 different choices");
            let square = inspection.confusion.len() == count
                && inspection.confusion.iter().all(|row| {
                    row.len() == count
                        && row.iter().all(|p| (0.0..=1.0).contains(p))
                        && (row.iter().sum::<f64>() - 1.0).abs() < 1e-9
                });
            let detail = "must have a row of probabilities for each choice, each row summing to 1";
            self.violations.require(square, format!("{pointer}/confusion"), detail);
            for (at, gross) in inspection.gross.iter().enumerate() {
                self.known_choice(&format!("{pointer}/gross/{at}"), inspection, gross);
            }
            if let Some(bands) = &inspection.bands {
                let ascending = bands.limits.windows(2).all(|pair| pair[0] < pair[1])
                    && bands.limits.iter().all(|limit| limit.is_finite());
                let complete = bands.choices.len() == bands.limits.len() + 1
                    && bands.choices.iter().all(|choice| inspection.choice(choice).is_some());
                let detail = "limits must ascend, with one more choice than limits, each of them listed";
                self.violations.require(ascending && complete, format!("{pointer}/bands"), detail);
            }
            for (at, follows) in inspection.follows.iter().enumerate() {
                let pointer = format!("{pointer}/follows/{at}");
                self.known_choice(&format!("{pointer}/choice"), inspection, &follows.choice);
                self.probability(&format!("{pointer}/probability"), follows.probability);
            }
            let twice = self.inspections[inspection.key.as_str()] != inspection
                || self.measurements.contains_key(inspection.key.as_str());
            let detail = "another observation has the key already: keep one";
            self.violations.require(!twice, format!("{pointer}/key"), detail);
        }
    }

    fn known_choice(&mut self, pointer: &str, inspection: &Inspection, choice: &crate::text::Key) {
        if inspection.choice(choice).is_none() {
            let known: Vec<_> = inspection.choices.iter().map(crate::text::Key::as_str).collect();
            let detail = format!("{} has the choices {}", inspection.key, known.join(", "));
            self.violations.add(pointer, detail);
        }
    }

    fn shares(&mut self, pointer: &str, shares: &BTreeMap<Symptom, f64>) {
        for (symptom, share) in shares {
            self.probability(&format!("{pointer}/{}", token(symptom.key())), *share);
        }
        let sum: f64 = shares.values().sum();
        self.violations.require(sum <= 1.0 + 1e-9, pointer, "must not sum to more than 1");
    }

    fn fault(&mut self, pointer: &str, fault: &Fault) {
        self.violations.require(fault.version > 0, format!("{pointer}/version"), "must be at least 1");
        let stands = fault.is_external() || self.model.has(fault.position);
        let detail = format!("the model {} has no {}", self.model.key, fault.position);
        self.violations.require(stands, format!("{pointer}/position"), detail);
        self.not_negative(&format!("{pointer}/per_year"), fault.per_year);
        self.positive(&format!("{pointer}/days_unmended"), fault.days_unmended);
        self.not_negative(&format!("{pointer}/calls_per_year"), fault.calls_per_year);
        self.not_negative(&format!("{pointer}/uncalled"), fault.uncalled);
        let detail = "stands on more than half of all machines: per_year times days_unmended is too large";
        self.violations.require(!fault.odds().is_finite() || fault.odds() <= 1.0, pointer, detail);
        self.shares(&format!("{pointer}/symptoms"), &fault.symptoms);
        self.severities(pointer, fault);
        for (index, shows) in fault.shows.iter().enumerate() {
            let pointer = format!("{pointer}/shows/{index}");
            self.probability(&format!("{pointer}/probability"), shows.probability);
            match self.inspections.get(shows.at.as_str()) {
                Some(inspection) => {
                    self.known_choice(&format!("{pointer}/choice"), inspection, &shows.choice);
                }
                None => {
                    self.violations.add(format!("{pointer}/at"), "the catalogue has no such inspection");
                }
            }
        }
        let per_inspection = fault.shows.iter().fold(BTreeMap::<&str, f64>::new(), |mut sums, shows| {
            *sums.entry(shows.at.as_str()).or_default() += shows.probability;
            sums
        });
        for (at, sum) in per_inspection.into_iter().filter(|(_, sum)| *sum > 1.0 + 1e-9) {
            self.violations
                .add(format!("{pointer}/shows"), format!("the probabilities at {at} sum to {sum}, over 1"));
        }
        if fault.effects.is_empty() && fault.shows.is_empty() && fault.symptoms.is_empty() {
            let detail = "needs effects, shows or symptoms, or nothing could ever point to it";
            self.violations.add(pointer, detail);
        }
        for (index, part) in fault.remedy.parts.iter().enumerate() {
            self.not_negative(&format!("{pointer}/remedy/parts/{index}/price"), part.price);
        }
    }

    fn severities(&mut self, pointer: &str, fault: &Fault) {
        self.weights(&format!("{pointer}/severities"), &fault.severities);
        let (mut of_degree, mut ranges) = (false, false);
        for (index, effect) in fault.effects.iter().enumerate() {
            let pointer = format!("{pointer}/effects/{index}");
            self.weights(&format!("{pointer}/severities"), &effect.severities);
            let of = if effect.severities.is_empty() { &fault.severities } else { &effect.severities };
            let (extents, levels) = (effect.change.extents(), of.len());
            let detail = format!("must have one value or range for each of the {levels} severities");
            self.violations.require(extents.len() == levels, format!("{pointer}/change"), detail);
            let factors = matches!(effect.change, Change::Scale(_));
            let mut ends = extents.iter().flat_map(|extent| [extent.from(), extent.to()]);
            let possible = ends.all(|end| end.is_finite() && (!factors || end >= 0.0));
            let detail = "must be finite numbers, and factors at least 0";
            self.violations.require(possible, format!("{pointer}/change"), detail);
            ranges |= extents.iter().any(|extent| matches!(extent, Extent::Range(..)));
            of_degree |= match &effect.on {
                Target::Parameter(Parameter::OpenElements) => false,
                Target::Parameter(_) => extents.iter().any(|extent| extent.from().fract().abs() > 1e-12),
                Target::Measurement(_) => true,
            };
            let subsystem = self.acts_on(&pointer, &effect.on);
            if let Some(subsystem) = subsystem.filter(|subsystem| *subsystem != fault.subsystem) {
                let detail = format!(
                    "acts on the subsystem {}, while the fault belongs to {}",
                    name(subsystem),
                    name(fault.subsystem)
                );
                self.violations.add(format!("{pointer}/on"), detail);
            }
        }
        if of_degree && !ranges && fault.severities.len() < LEVELS {
            let detail = format!(
                "a fault with effects of degree needs ranges, the last one up to complete failure, or at least \
                 {LEVELS} severities"
            );
            self.violations.add(format!("{pointer}/severities"), detail);
        }
    }

    fn weights(&mut self, pointer: &str, weights: &[f64]) {
        let hold = weights.iter().all(|w| w.is_finite() && *w > 0.0) && weights.len() <= MOST_LEVELS;
        let detail = format!("must be weights greater than 0, at most {MOST_LEVELS} of them");
        self.violations.require(hold, pointer, detail);
    }

    fn acts_on(&mut self, pointer: &str, target: &Target) -> Option<Subsystem> {
        let key = match target {
            Target::Parameter(parameter) => return Some(parameter.subsystem()),
            Target::Measurement(key) => key,
        };
        let detail = match self.measurements.get(key.as_str()).map(|measurement| &measurement.reads) {
            Some(Reads::Own { subsystem, .. }) => return Some(*subsystem),
            Some(_) => "this measurement follows from the circuit: act on a parameter of it instead",
            None => "the catalogue has no such measurement",
        };
        self.violations.add(format!("{pointer}/on"), detail);
        None
    }

    fn whole(&mut self) {
        let mut members: BTreeMap<super::Subsystem, usize> = BTreeMap::new();
        let mut keys = BTreeSet::new();
        for (index, fault) in self.catalogue.faults.iter().enumerate() {
            *members.entry(fault.subsystem).or_default() += 1;
            let is_new = keys.insert(&fault.key);
            let detail = "another fault has the key already: keep one";
            self.violations.require(is_new, format!("/faults/{index}/key"), detail);
        }
        for (subsystem, count) in members {
            let detail = format!(
                "{} has {count} faults; more than {MOST_FAULTS_OF_A_SUBSYSTEM} cannot be summed exactly",
                name(subsystem)
            );
            self.violations.require(count <= MOST_FAULTS_OF_A_SUBSYSTEM, "/faults", detail);
        }
    }
}

fn name(subsystem: super::Subsystem) -> String {
    format!("{subsystem:?}")
}
