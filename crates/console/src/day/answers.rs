//! What a form says of a procedure's steps, made into readings, and what is wrong with it, beside each step.

use std::collections::{BTreeMap, BTreeSet};

use application::Fault;
use domain::equipment::Model;
use domain::evidence::{Censored, Conditions, Instrument, InstrumentKind, Measured, Reading, Series};
use domain::procedure::{Precondition, Procedure, Reads, Step};
use domain::quantity::QuantityKind;
use domain::text::{Key, Words};

use super::numbers;
use super::step::{field, steps_of};
use crate::fields::Fields;

/// What is wrong, by step; under no step what concerns all of it.
#[derive(Debug, Clone, Default)]
pub(super) struct Faults(BTreeMap<String, Vec<String>>);

impl Faults {
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn of(&self, step: &str) -> Vec<String> {
        self.0.get(step).cloned().unwrap_or_default()
    }

    pub fn add(&mut self, step: &str, detail: String) {
        self.0.entry(step.to_owned()).or_default().push(detail);
    }

    /// What the use case found, beside the step of the reading that it points at.
    pub fn of_run(faults: &[Fault], readings: &[Reading]) -> Self {
        let mut own = Self::default();
        for fault in faults {
            let index = fault.pointer.strip_prefix("/readings/").and_then(|rest| rest.split('/').next());
            let reading =
                index.and_then(|index| index.parse::<usize>().ok()).and_then(|index| readings.get(index));
            let skipped = fault.pointer.strip_prefix("/not_tested/");
            let step = reading.map(|reading| reading.step.as_str()).or(skipped).unwrap_or_default();
            own.add(step, fault.detail.clone());
        }
        own
    }
}

/// What was read, what was left out and why, under which conditions.
#[derive(Debug, Default)]
pub(super) struct Answers {
    pub readings: Vec<Reading>,
    pub not_tested: BTreeMap<Key, Words>,
    pub conditions: Conditions,
    pub faults: Faults,
}

/// The conditions that bring a reading to reference: field, quantity.
pub(super) const CONDITIONS: [(&str, QuantityKind); 3] = [
    ("dynamic_pressure", QuantityKind::DynamicPressure),
    ("water_temperature", QuantityKind::Temperature),
    ("supply_voltage", QuantityKind::Voltage),
];

impl Answers {
    pub fn of(procedure: &Procedure, model: Option<&Model>, fields: &Fields) -> Self {
        let mut answers = Self::default();
        for step in steps_of(procedure, model) {
            answers.step(step, fields);
        }
        answers.conditions(procedure, fields);
        answers
    }

    fn step(&mut self, step: &Step, fields: &Fields) {
        let key = step.key.as_str();
        let why = fields.get(&field("why", key));
        match (reading(step, fields), why) {
            (Err(detail), _) => self.faults.add(key, detail),
            (Ok(Some(_)), Some(_)) => self.faults.add(key, wording::say("step-read-and-skipped")),
            (Ok(Some(reading)), None) => self.readings.push(reading),
            (Ok(None), Some(why)) => match Words::new(why) {
                Ok(why) => drop(self.not_tested.insert(step.key.clone(), why)),
                Err(error) => self.faults.add(key, error.to_string()),
            },
            (Ok(None), None) if step.optional => {}
            (Ok(None), None) => self.faults.add(key, wording::say("step-missing")),
        }
    }

    fn conditions(&mut self, procedure: &Procedure, fields: &Fields) {
        let [dynamic, temperature, voltage] = CONDITIONS.map(|(name, kind)| {
            let text = fields.get(&field("condition", name))?;
            let unit = fields.raw(&field("condition-unit", name));
            match number(text, kind, if unit.is_empty() { kind.canonical_unit() } else { unit }) {
                Ok(measured) => Some(measured),
                Err(detail) => {
                    self.faults.add("", format!("{}: {detail}", wording::term("condition-read", name)));
                    None
                }
            }
        });
        let asked: BTreeSet<&Key> = procedure
            .preconditions
            .iter()
            .filter_map(|of| if let Precondition::Confirmed { key, .. } = of { Some(key) } else { None })
            .collect();
        let said = |key: &&&Key| fields.all("confirmed").any(|said| said == key.as_str());
        self.conditions = Conditions {
            dynamic_pressure: dynamic,
            water_temperature: temperature,
            supply_voltage: voltage,
            door_closed: None,
            confirmed: asked.iter().filter(said).map(|key| (*key).clone()).collect(),
        };
    }
}

/// What a step's fields say; none if they were left empty.
fn reading(step: &Step, fields: &Fields) -> Result<Option<Reading>, String> {
    let key = step.key.as_str();
    let unit = fields.raw(&field("unit", key));
    match &step.reads {
        Reads::Measure { quantity, .. } => {
            let Some(text) = fields.get(&field("value", key)) else { return Ok(None) };
            let mut measured = number(text, *quantity, unit)?;
            measured.censored = match fields.raw(&field("bound", key)) {
                "at_least" => Some(Censored::AtLeast),
                "at_most" => Some(Censored::AtMost),
                _ => None,
            };
            if fields.get(&field("touched", key)).is_some() {
                measured.instrument = Some(stopwatch());
            }
            Ok(Some(Reading::value(step.key.clone(), measured)))
        }
        Reads::Choose { .. } => {
            let Some(choice) = fields.get(&field("choice", key)) else { return Ok(None) };
            let choice = Key::new(choice).map_err(|_| wording::say("fault-field-choice"))?;
            Ok(Some(Reading::choice(step.key.clone(), choice)))
        }
        Reads::Record { quantity, .. } => {
            let Some(text) = fields.get(&field("series", key)) else { return Ok(None) };
            series(text, *quantity, unit).map(|series| Some(Reading::series(step.key.clone(), series)))
        }
    }
}

/// A clock that a hand starts and stops, whoever made it.
fn stopwatch() -> Instrument {
    Instrument {
        kind: InstrumentKind::Stopwatch,
        name: None,
        accuracy: None,
        resolution: None,
        calibrated_on: None,
        calibration_due: None,
    }
}

fn number(text: &str, kind: QuantityKind, unit: &str) -> Result<Measured, String> {
    let said =
        |key: &str| wording::say_with(key, &[("text", text.chars().take(40).collect::<String>().into())]);
    let value = numbers::number(text, Some(kind)).ok_or_else(|| {
        said(if kind == QuantityKind::Duration { "fault-no-time" } else { "fault-no-number" })
    })?;
    // What stands with a colon is in seconds, whatever was chosen.
    let unit = if kind == QuantityKind::Duration && text.contains(':') { "s" } else { unit };
    let unit = if unit.is_empty() { kind.canonical_unit() } else { unit };
    let read = numbers::as_read(text, value, unit).map_err(|error| error.to_string())?;
    read.canonical(kind).map_err(|error| error.to_string())?;
    Ok(Measured::new(read))
}

/// Samples as lines of seconds and value.
fn series(text: &str, kind: QuantityKind, unit: &str) -> Result<Series, String> {
    let (mut times_s, mut values) = (Vec::new(), Vec::new());
    for line in text.lines().map(str::trim).filter(|line| !line.is_empty()) {
        let mut parts = line.split([' ', '\t', ';']).filter(|part| !part.is_empty());
        let mut next = |kind| parts.next().and_then(|part| numbers::number(part, kind));
        let sample = (next(Some(QuantityKind::Duration)), next(None), parts.next());
        let (Some(time), Some(value), None) = sample else {
            let line: String = line.chars().take(40).collect();
            return Err(wording::say_with("fault-no-sample", &[("line", line.into())]));
        };
        times_s.push(time);
        values.push(value);
    }
    let unit = if unit.is_empty() { kind.canonical_unit() } else { unit };
    Ok(Series { values, times_s, unit: unit.to_owned(), instrument: None })
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::equipment::demo_combi;
    use domain::procedure::built_in_procedures;

    fn procedure(key: &str) -> &'static Procedure {
        built_in_procedures().iter().find(|procedure| procedure.key.as_str() == key).unwrap()
    }

    fn answers(key: &str, typed: &[(&str, &str)]) -> Answers {
        let typed =
            typed.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect::<Vec<_>>();
        Answers::of(procedure(key), Some(demo_combi()), &Fields::from(typed))
    }

    #[test]
    fn a_time_a_bound_and_a_confirmation_become_a_reading() {
        let typed = [
            ("value:fill_time", "1:12,5"),
            ("unit:fill_time", "min"),
            ("bound:fill_time", "at_least"),
            ("touched:fill_time", "yes"),
            ("confirmed", "sump_empty"),
            ("confirmed", "made_up"),
            ("condition:dynamic_pressure", "38"),
            ("condition-unit:dynamic_pressure", "[psi]"),
        ];
        let answers = answers("fill_time", &typed);
        assert!(answers.faults.is_empty(), "{:?}", answers.faults);
        let value = answers.readings[0].value.as_ref().unwrap();
        assert_eq!((value.as_read.value, value.as_read.unit.as_str()), (72.5, "s"));
        assert_eq!(value.as_read.text.as_str(), "1:12,5");
        assert_eq!(value.censored, Some(Censored::AtLeast));
        assert_eq!(value.instrument.as_ref().unwrap().kind, InstrumentKind::Stopwatch);
        assert_eq!(answers.conditions.confirmed.len(), 1);
        let bar =
            answers.conditions.dynamic_pressure.unwrap().as_read.canonical(QuantityKind::DynamicPressure);
        assert!((bar.unwrap() - 2.62).abs() < 0.001);
    }

    #[test]
    fn a_step_is_read_or_has_its_reason_and_not_both() {
        let empty = answers("fill_time", &[]);
        assert_eq!(empty.faults.of("fill_time").len(), 1);
        let skipped = answers("fill_time", &[("why:fill_time", "no water on the site")]);
        assert!(skipped.faults.is_empty() && skipped.readings.is_empty());
        assert_eq!(skipped.not_tested.len(), 1);
        let both = answers("fill_time", &[("value:fill_time", "12"), ("why:fill_time", "no water")]);
        assert_eq!(both.faults.of("fill_time").len(), 1);
        for nonsense in ["soon", "-1", "1e99", "<b>"] {
            let wrong = answers("fill_time", &[("value:fill_time", nonsense)]);
            assert_eq!(wrong.faults.of("fill_time").len(), 1, "{nonsense}");
        }
    }

    #[test]
    fn a_series_is_read_line_by_line() {
        let series = series("0 0\n1,5\t14,2\n0:03 ; 15", QuantityKind::VolumeFlow, "").unwrap();
        assert_eq!((series.times_s, series.values), (vec![0.0, 1.5, 3.0], vec![0.0, 14.2, 15.0]));
        assert_eq!(series.unit, "L/min");
        for nonsense in ["1", "1 2 3", "a b"] {
            assert!(super::series(nonsense, QuantityKind::VolumeFlow, "").is_err(), "{nonsense}");
        }
    }
}
