//! What a run must hold to be evidence: every violation at once.

use std::collections::BTreeSet;

use super::{Accuracy, Censored, Instrument, Measured, Reading, Series, TestRun};
use crate::equipment::Model;
use crate::procedure::{Precondition, Procedure, Reads, Step};
use crate::quantity::{QuantityError, QuantityKind};
use crate::text::Key;
use crate::violation::{Violation, Violations, token};

/// The longest series that a step may hold.
const MAXIMUM_SAMPLES: usize = 100_000;

pub(super) fn validate(run: &TestRun, procedure: &Procedure, model: &Model) -> Result<(), Vec<Violation>> {
    let mut check = Check { violations: Violations::new(), run, procedure, model };
    check.identity();
    if run.retraction_reason.is_some() {
        check.retraction();
    } else if run.procedure == procedure.id() {
        check.conditions();
        check.readings();
        check.completeness();
        check.interlock();
    }
    check.violations.finish()
}

struct Check<'a> {
    violations: Violations,
    run: &'a TestRun,
    procedure: &'a Procedure,
    model: &'a Model,
}

/// Numbers in the unit of a reading that say how wide something is.
#[derive(Clone, Copy)]
struct Width<'a> {
    quantity: QuantityKind,
    unit: &'a str,
}

impl Width<'_> {
    /// Whether a number is such a width. Of a unit that the quantity does not take nothing is said: that is a fault of its own.
    fn holds(self, width: f64) -> bool {
        let converted = self.quantity.interval_to_canonical(width, self.unit);
        match converted {
            Err(QuantityError::UnitDoesNotFit { .. }) => width.is_finite() && width >= 0.0,
            converted => converted.is_ok(),
        }
    }
}

impl Check<'_> {
    fn identity(&mut self) {
        let (run, known) = (self.run, self.procedure.id());
        if run.procedure.key != known.key {
            self.violations
                .add("/procedure/key", format!("must be {}, not {}", known.key, run.procedure.key));
        } else if run.procedure.version != known.version {
            let detail = format!(
                "{} has no version {}; use version {}",
                known.key, run.procedure.version, known.version
            );
            self.violations.add("/procedure/version", detail);
        }
        let detail = "a run cannot supersede itself: name the run that it corrects";
        self.violations.require(run.supersedes != Some(run.id), "/supersedes", detail);
    }

    fn retraction(&mut self) {
        let run = self.run;
        let detail = "is required with a retraction_reason: name the run that is retracted";
        self.violations.require(run.supersedes.is_some(), "/supersedes", detail);
        let detail =
            "must be empty in a retraction; to correct readings send them without a retraction_reason";
        self.violations.require(run.readings.is_empty(), "/readings", detail);
        self.violations.require(run.not_tested.is_empty(), "/not_tested", "must be empty in a retraction");
    }

    fn conditions(&mut self) {
        let conditions = &self.run.conditions;
        let measured = [
            ("dynamic_pressure", &conditions.dynamic_pressure, QuantityKind::DynamicPressure),
            ("water_temperature", &conditions.water_temperature, QuantityKind::Temperature),
            ("supply_voltage", &conditions.supply_voltage, QuantityKind::Voltage),
        ];
        for (field, value, quantity) in measured {
            if let Some(value) = value {
                self.measured(value, quantity, &format!("/conditions/{field}"));
            }
        }
        let known: Vec<&Key> = (self.procedure.preconditions.iter())
            .filter_map(|precondition| match precondition {
                Precondition::Confirmed { key, .. } => Some(key),
                _ => None,
            })
            .collect();
        for (index, key) in conditions.confirmed.iter().enumerate() {
            if !known.contains(&key) {
                let known: Vec<_> = known.iter().map(|key| key.as_str()).collect();
                let asked = if known.is_empty() { "nothing".to_owned() } else { known.join(", ") };
                let detail = format!("this procedure asks to confirm {asked}, not {key}");
                self.violations.add(format!("/conditions/confirmed/{index}"), detail);
            }
        }
    }

    fn readings(&mut self) {
        let mut seen = BTreeSet::new();
        for (index, reading) in self.run.readings.iter().enumerate() {
            let pointer = format!("/readings/{index}");
            let is_new = seen.insert(&reading.step);
            let detail = "this step is read already in the run: send repeats as one value with its repeats";
            self.violations.require(is_new, format!("{pointer}/step"), detail);
            match self.procedure.step(&reading.step) {
                Some(step) => self.reading(reading, step, &pointer),
                None => self.unknown_step(&reading.step, format!("{pointer}/step")),
            }
        }
    }

    fn unknown_step(&mut self, key: &Key, pointer: String) {
        let known: Vec<_> = self.procedure.steps.iter().map(|step| step.key.as_str()).collect();
        let detail = format!("{} has no step {key}; it has {}", self.run.procedure, known.join(", "));
        self.violations.add(pointer, detail);
    }

    fn reading(&mut self, reading: &Reading, step: &Step, pointer: &str) {
        if !step.applies_to(self.model) {
            let lacks = match step.stage().filter(|stage| self.model.stage_cel(*stage).is_none()) {
                Some(stage) => format!("no {} stage of the wash", stage.word()),
                None => "none of the positions that this step reads".into(),
            };
            let detail = format!("model {} has {lacks}", self.model.key);
            self.violations.add(format!("{pointer}/step"), detail);
        }
        if self.run.not_tested.contains_key(&step.key) {
            let detail = "is read and listed in not_tested: keep one of the two";
            self.violations.add(format!("{pointer}/step"), detail);
        }
        for needed in &step.needs_steps {
            let detail = format!("{} needs {needed} in the same run", step.key);
            self.violations.require(self.run.reading(needed).is_some(), pointer, detail);
        }
        let given = [reading.value.is_some(), reading.choice.is_some(), reading.series.is_some()];
        if given.into_iter().filter(|is_given| *is_given).count() != 1 {
            self.violations.add(pointer, "must have exactly one of value, choice and series");
            return;
        }
        match (&step.reads, reading) {
            (Reads::Measure { quantity, capacity_step, .. }, Reading { value: Some(value), .. }) => {
                let pointer = format!("{pointer}/value");
                self.measured(value, *quantity, &pointer);
                if let Some(capacity_step) = capacity_step {
                    self.capacity(value, *quantity, capacity_step, &pointer);
                }
            }
            (Reads::Choose { choices, .. }, Reading { choice: Some(choice), .. }) => {
                let known: Vec<_> = choices.iter().map(|choice| choice.key.as_str()).collect();
                let detail = format!("must be one of {}", known.join(", "));
                self.violations.require(step.choice(choice).is_some(), format!("{pointer}/choice"), detail);
            }
            (Reads::Record { quantity, minimum_samples, .. }, Reading { series: Some(series), .. }) => {
                self.series(series, *quantity, *minimum_samples, &format!("{pointer}/series"));
            }
            (Reads::Measure { .. }, _) => self.violations.add(pointer, "this step takes a value"),
            (Reads::Choose { .. }, _) => self.violations.add(pointer, "this step takes a choice"),
            (Reads::Record { .. }, _) => self.violations.add(pointer, "this step takes a series"),
        }
    }

    fn measured(&mut self, value: &Measured, quantity: QuantityKind, pointer: &str) {
        if let Err(error) = value.as_read.canonical(quantity) {
            let unit = quantity.accepted_units().all(|unit| unit != value.as_read.unit);
            let field = if unit { "unit" } else { "value" };
            self.violations.add(format!("{pointer}/{field}"), error.to_string());
        }
        let width = Width { quantity, unit: &value.as_read.unit };
        if let Some(u) = value.standard_uncertainty {
            let detail = "must be greater than 0, and no wider than all that the quantity can be; leave it out to take it \
                          from the instrument";
            let holds = u > 0.0 && width.holds(u);
            self.violations.require(holds, format!("{pointer}/standard_uncertainty"), detail);
        }
        if let Some(repeats) = value.repeats {
            let pointer = format!("{pointer}/repeats");
            self.violations.require(repeats.count >= 2, format!("{pointer}/count"), "must be at least 2");
            let deviation = repeats.standard_deviation;
            let detail = "must be at least 0, and no wider than all that the quantity can be";
            let holds = width.holds(deviation);
            self.violations.require(holds, format!("{pointer}/standard_deviation"), detail);
            let detail = "repeated readings have a mean only if none of them is censored";
            self.violations.require(value.censored.is_none(), pointer, detail);
        }
        if let Some(instrument) = &value.instrument {
            self.instrument(instrument, width, &format!("{pointer}/instrument"));
        }
    }

    fn instrument(&mut self, instrument: &Instrument, width: Width<'_>, pointer: &str) {
        let positive = |value: f64| value > 0.0 && width.holds(value);
        let is_percentage = |value: f64| (0.0..=1000.0).contains(&value);
        let holds = match instrument.accuracy {
            None => true,
            Some(Accuracy::Class { percent, full_scale }) => {
                percent > 0.0 && is_percentage(percent) && positive(full_scale)
            }
            Some(Accuracy::MaximumPermissibleError { absolute, percent }) => {
                width.holds(absolute) && is_percentage(percent) && absolute + percent > 0.0
            }
        };
        let detail = "must be of numbers that are not negative and not all 0: per cent up to 1000, the others no wider than \
                      all that the quantity can be";
        self.violations.require(holds, format!("{pointer}/accuracy"), detail);
        let holds = instrument.resolution.is_none_or(positive);
        let detail = "must be greater than 0, and no wider than all that the quantity can be";
        self.violations.require(holds, format!("{pointer}/resolution"), detail);
        let day = self.run.taken_at.instant().date_naive();
        // A day's grace: the device's own date may run ahead of UTC.
        let holds = instrument.calibrated_on.is_none_or(|date| date.pred_opt().is_none_or(|eve| eve <= day));
        let detail = "must not be later than the run itself";
        self.violations.require(holds, format!("{pointer}/calibrated_on"), detail);
        if let (Some(done), Some(due)) = (instrument.calibrated_on, instrument.calibration_due) {
            let detail = "must be later than calibrated_on";
            self.violations.require(done < due, format!("{pointer}/calibration_due"), detail);
        }
    }

    fn capacity(&mut self, value: &Measured, quantity: QuantityKind, capacity_step: &Key, pointer: &str) {
        let capacity = self.run.reading(capacity_step).and_then(|reading| reading.value.as_ref());
        let capacity = capacity.and_then(|capacity| capacity.as_read.canonical(quantity).ok());
        let (Some(capacity), Ok(value_read)) = (capacity, value.as_read.canonical(quantity)) else { return };
        let unit = quantity.canonical_unit();
        if capacity <= 0.0 {
            self.violations.add(pointer, format!("{capacity_step} must be greater than 0 {unit}"));
        } else if value_read > capacity {
            let detail = format!(
                "{value_read} {unit} is more than {capacity_step} holds ({capacity} {unit}): if it ran over, send \
                 {capacity} {unit} with censored at_least"
            );
            self.violations.add(pointer, detail);
        } else if value_read >= capacity && value.censored != Some(Censored::AtLeast) {
            let detail = "it was full to the brim, so more may have come: say censored at_least";
            self.violations.add(format!("{pointer}/censored"), detail);
        }
    }

    fn series(&mut self, series: &Series, quantity: QuantityKind, minimum_samples: usize, pointer: &str) {
        let Series { values, times_s, unit, instrument } = series;
        if values.len() != times_s.len() {
            let detail =
                format!("must have as many times as values: {} against {}", times_s.len(), values.len());
            self.violations.add(format!("{pointer}/times_s"), detail);
        }
        let holds = (minimum_samples..=MAXIMUM_SAMPLES).contains(&values.len());
        let detail =
            format!("must have from {minimum_samples} to {MAXIMUM_SAMPLES} samples, has {}", values.len());
        self.violations.require(holds, format!("{pointer}/values"), detail);
        let wrong = values.iter().find_map(|value| quantity.to_canonical(*value, unit).err());
        if let Some(error) = wrong {
            let is_unit = quantity.accepted_units().all(|accepted| accepted != unit);
            let field = if is_unit { "unit" } else { "values" };
            self.violations.add(format!("{pointer}/{field}"), error.to_string());
        }
        let wrong = times_s.iter().find_map(|time| QuantityKind::Duration.check(*time).err());
        if let Some(error) = wrong {
            self.violations.add(format!("{pointer}/times_s"), error.to_string());
        }
        if let Some(index) = times_s.windows(2).position(|pair| pair[1] <= pair[0]) {
            let detail = format!("time must rise: sample {} is not later than sample {index}", index + 1);
            self.violations.add(format!("{pointer}/times_s/{}", index + 1), detail);
        }
        if let Some(instrument) = instrument {
            self.instrument(instrument, Width { quantity, unit }, &format!("{pointer}/instrument"));
        }
    }

    fn completeness(&mut self) {
        for key in self.run.not_tested.keys() {
            if self.procedure.step(key).is_none() {
                self.unknown_step(key, format!("/not_tested/{}", token(key.as_str())));
            }
        }
        for step in self.procedure.steps.iter().filter(|step| !step.optional && step.applies_to(self.model)) {
            let is_there =
                self.run.reading(&step.key).is_some() || self.run.not_tested.contains_key(&step.key);
            let detail = format!("lacks the step {}: read it, or give its reason in not_tested", step.key);
            self.violations.require(is_there, "/readings", detail);
        }
    }

    fn interlock(&mut self) {
        let defeated = self.procedure.defeating_steps().find(|step| self.run.reading(&step.key).is_some());
        if let (Some(step), None) = (defeated, self.run.interlock_defeat) {
            let detail = format!(
                "{} takes a protection away: open an interlock defeat with a second person and a time limit, and \
                 name it here",
                step.key
            );
            self.violations.add("/interlock_defeat", detail);
        }
    }
}

#[cfg(test)]
mod tests;
