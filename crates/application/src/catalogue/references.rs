//! What a new version says of other entries of the catalogue must be there.

use std::collections::BTreeMap;

use domain::equipment::{Measurement, Model};
use domain::procedure::{Precondition, Procedure, Reads};
use domain::quantity::QuantityKind;
use domain::text::Key;
use domain::violation::Violation;

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
        .filter_map(|(pointer, of, quantity)| of_measurement(&pointer, of, quantity, procedures))
        .collect()
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

fn no_procedure(key: &Key) -> String {
    format!("there is no procedure {key}; GET /v1/procedures lists them")
}

fn no_step(step: &Key, procedure: &Procedure) -> String {
    let known: Vec<_> = procedure.steps.iter().map(|step| step.key.as_str()).collect();
    format!("the procedure {} has no step {step}; it has {}", procedure.key, known.join(", "))
}
