//! What a new version says of other entries of the catalogue must be there.

use std::collections::BTreeMap;

use domain::equipment::{
    FaultCatalogue, Measurement, MeasurementModel, Model, ObservationKey, Reads as Predicted, SeriesStatistic,
};
use domain::procedure::{Precondition, Procedure, Reads};
use domain::quantity::QuantityKind;
use domain::text::Key;
use domain::violation::Violation;
use store::fault_catalogue::NewFault;

type Procedures = BTreeMap<String, Procedure>;

/// Limits and typical values that speak of steps which no procedure has, or has with another quantity.
pub fn of_model(model: &Model, procedures: &Procedures) -> Vec<Violation> {
    let limits = model.functional_limits.iter().enumerate();
    let limits =
        limits.map(|(index, limit)| (format!("/functional_limits/{index}"), &limit.of, limit.quantity));
    let typical = model.typical_values.iter().enumerate();
    let typical =
        typical.map(|(index, value)| (format!("/typical_values/{index}"), &value.of, value.quantity));
    limits
        .chain(typical)
        .filter_map(|(pointer, of, quantity)| {
            let unknown = of_measurement(&pointer, of, quantity, procedures);
            unknown.or_else(|| of_missing_stage(&pointer, of, model, procedures))
        })
        .collect()
}

/// A limit or typical value of a time to a stage that the model does not have.
fn of_missing_stage(
    pointer: &str,
    of: &Measurement,
    model: &Model,
    procedures: &Procedures,
) -> Option<Violation> {
    let stage = procedures.get(of.procedure.as_str())?.step(&of.step)?.stage()?;
    model.stage_cel(stage).is_none().then(|| Violation {
        pointer: format!("{pointer}/of/step"),
        detail: format!(
            "times the {} stage of the wash, and the model has {}: give it in wash_stages_cel, or leave this out",
            stage.word(),
            model.wash_stages_cel.len()
        ),
    })
}

/// A limit or typical value at `pointer` that speaks of a step which no procedure has.
pub fn of_measurement(
    pointer: &str,
    of: &Measurement,
    quantity: QuantityKind,
    procedures: &Procedures,
) -> Option<Violation> {
    let violation =
        |field: &str, detail: String| Some(Violation { pointer: format!("{pointer}{field}"), detail });
    let Some(procedure) = procedures.get(of.procedure.as_str()) else {
        return violation("/of/procedure", no_procedure(&of.procedure));
    };
    let Some(step) = procedure.step(&of.step) else {
        return violation("/of/step", no_step(&of.step, procedure));
    };
    let measured = match (&step.reads, of.statistic) {
        (Reads::Measure { quantity, .. }, None) => Some(*quantity),
        (Reads::Record { quantity, .. }, Some(statistic)) => Some(statistic.quantity(*quantity)),
        _ => None,
    };
    match measured {
        Some(measured) if measured == quantity => None,
        Some(measured) => violation("/quantity", format!("that step reads a {}", measured.key())),
        None if of.statistic.is_none() => violation(
            "/of/statistic",
            "that step records no single value: name a statistic, or another step".into(),
        ),
        None => violation("/of/statistic", "that step records no series: leave the statistic out".into()),
    }
}

/// Preconditions that name procedures or steps which are not there.
pub fn of_procedure(procedure: &Procedure, procedures: &Procedures) -> Vec<Violation> {
    let mut violations = Vec::new();
    for (index, precondition) in procedure.preconditions.iter().enumerate() {
        let pointer = format!("/preconditions/{index}");
        let (other, step) = match precondition {
            Precondition::Read { procedure, step, .. } => (procedure, Some(step)),
            Precondition::Passed { procedure, step, .. } => (procedure, step.as_ref()),
            Precondition::Confirmed { .. } => continue,
        };
        let known = procedures.get(other.as_str());
        match (known, step) {
            (None, _) if *other != procedure.key => violations
                .push(Violation { pointer: format!("{pointer}/procedure"), detail: no_procedure(other) }),
            (Some(known), Some(step)) if known.step(step).is_none() => {
                violations
                    .push(Violation { pointer: format!("{pointer}/step"), detail: no_step(step, known) });
            }
            _ => {}
        }
    }
    violations
}

/// A model that is not there.
pub fn no_model(key: &Key) -> Violation {
    Violation {
        pointer: "/model".into(),
        detail: format!("there is no model {key}: name one of the catalogue, or put it in first"),
    }
}

/// Questions of the intake, which no procedure asks.
const INTAKE: &str = "intake";

/// Measurements, inspections and mandatory tests of a catalogue of faults that no procedure makes.
pub fn of_faults(faults: &FaultCatalogue, procedures: &Procedures) -> Vec<Violation> {
    let mut violations = Vec::new();
    for (index, measurement) in faults.measurements.iter().enumerate() {
        let pointer = format!("/measurements/{index}");
        let quantity = Some(measurement.quantity);
        violations.extend(of_observation(&pointer, &measurement.key, quantity, procedures));
        violations.extend(of_other_stage(&pointer, measurement, procedures));
    }
    for (index, inspection) in faults.inspections.iter().enumerate() {
        if inspection.key.procedure() != INTAKE {
            let pointer = format!("/inspections/{index}");
            violations.extend(of_observation(&pointer, &inspection.key, None, procedures));
        }
    }
    for (index, mandatory) in faults.mandatory.iter().enumerate() {
        if !procedures.contains_key(mandatory.procedure.as_str()) {
            let pointer = format!("/mandatory/{index}/procedure");
            violations.push(Violation { pointer, detail: no_procedure(&mandatory.procedure) });
        }
    }
    violations
}

/// A heating that is timed to another stage than the step's.
fn of_other_stage(
    pointer: &str,
    measurement: &MeasurementModel,
    procedures: &Procedures,
) -> Option<Violation> {
    let Predicted::HeatingTime { stage } = measurement.reads else { return None };
    let step = Key::new(measurement.key.step()).ok()?;
    let timed = procedures.get(measurement.key.procedure())?.step(&step)?.stage();
    (timed != Some(stage)).then(|| Violation {
        pointer: format!("{pointer}/reads/heating_time/stage"),
        detail: match timed {
            Some(timed) => format!("that step times the {} stage", timed.word()),
            None => "that step times no stage of the wash".into(),
        },
    })
}

/// What is observed by a step of a procedure; with a quantity, in numbers.
fn of_observation(
    pointer: &str,
    key: &ObservationKey,
    quantity: Option<QuantityKind>,
    procedures: &Procedures,
) -> Option<Violation> {
    let violation =
        |field: &str, detail: String| Some(Violation { pointer: format!("{pointer}{field}"), detail });
    let mut names = key.as_str().split('/').filter_map(|name| Key::new(name).ok());
    let (Some(of), Some(step)) = (names.next(), names.next()) else { return None };
    let Some(procedure) = procedures.get(of.as_str()) else {
        return violation("/key", no_procedure(&of));
    };
    let Some(step) = procedure.step(&step) else {
        return violation("/key", no_step(&step, procedure));
    };
    let statistic = names.next();
    let statistic = match &statistic {
        None => None,
        Some(name) => {
            let known = SeriesStatistic::ALL.into_iter().find(|known| known.key() == name.as_str());
            let Some(known) = known else {
                let known = SeriesStatistic::ALL.map(SeriesStatistic::key).join(", ");
                return violation("/key", format!("{name} is no statistic of a series; they are {known}"));
            };
            Some(known)
        }
    };
    match (&step.reads, statistic, quantity) {
        (Reads::Record { .. }, None, _) => {
            violation("/key", "that step records a series: name a statistic".into())
        }
        (Reads::Measure { .. } | Reads::Choose { .. }, Some(_), _) => {
            violation("/key", "that step records no series: leave the statistic out".into())
        }
        (Reads::Measure { quantity: measured, .. }, None, Some(quantity)) if *measured != quantity => {
            violation("/quantity", format!("that step reads a {}", measured.key()))
        }
        (Reads::Record { quantity: recorded, .. }, Some(statistic), Some(quantity))
            if statistic.quantity(*recorded) != quantity =>
        {
            violation("/quantity", format!("that statistic is a {}", statistic.quantity(*recorded).key()))
        }
        _ => None,
    }
}

/// A version of a fault that is kept never changes, and versions are counted without gaps.
pub fn of_fault_versions(faults: &[NewFault], kept: &BTreeMap<(Key, u32), Vec<u8>>) -> Vec<Violation> {
    let mut violations = Vec::new();
    for (index, fault) in faults.iter().enumerate() {
        let pointer = format!("/faults/{index}/version");
        let newest = kept.keys().filter(|(key, _)| *key == fault.key).map(|(_, version)| *version).max();
        let due = newest.unwrap_or(0) + 1;
        match kept.get(&(fault.key.clone(), fault.version)) {
            Some(hash) if *hash == fault.body_sha256 => {}
            Some(_) => {
                let detail =
                    format!("this version of {} is kept with other content; make it {due}", fault.key);
                violations.push(Violation { pointer, detail });
            }
            None if fault.version == due => {}
            None => {
                let detail = format!("the next version of {} is {due}", fault.key);
                violations.push(Violation { pointer, detail });
            }
        }
    }
    violations
}

fn no_procedure(key: &Key) -> String {
    format!("there is no procedure {key}: name one of the catalogue, or put it in first")
}

fn no_step(step: &Key, procedure: &Procedure) -> String {
    let known: Vec<_> = procedure.steps.iter().map(|step| step.key.as_str()).collect();
    format!("the procedure {} has no step {step}; it has {}", procedure.key, known.join(", "))
}
