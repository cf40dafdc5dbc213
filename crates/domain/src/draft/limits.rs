//! Limits and typical values: the built-in models', brought to the machine, and those of a person in their place.

use super::Plate;
use super::general::General;
use super::likeness::{self, Likeness};
use crate::equipment::{FunctionalLimit, Model, TypicalValue, demo_combi, demo_warewasher};
use crate::procedure::built_in_procedures;
use crate::quantity::QuantityKind;
use crate::violation::{Violation, Violations};

/// The plate's own first, so that what is wrong with one of them stands at its place in the plate.
pub(super) fn functional(plate: &Plate, model: &Model, likeness: &Likeness<'_>) -> Vec<FunctionalLimit> {
    let (combi, more) = (&demo_combi().functional_limits, &demo_warewasher().functional_limits);
    let more = more.iter().filter(|limit| combi.iter().all(|known| known.of != limit.of));
    let own = &plate.functional_limits;
    let general = combi.iter().chain(more).filter(|limit| own.iter().all(|known| known.of != limit.of));
    let table = General::of(model);
    let is_read = |limit: &&FunctionalLimit| {
        likeness::applies(model, &limit.of) && table.can_be_looked_at(&(&limit.of).into())
    };
    let fitting = general.filter(is_read).filter_map(|limit| {
        let ratio = likeness.ratio(&limit.of)?;
        let scaled = |value: f64| likeness::rounded(value * ratio);
        Some(FunctionalLimit {
            lower: limit.lower.map(scaled),
            upper: limit.upper.map(scaled),
            ..limit.clone()
        })
    });
    own.iter().cloned().chain(fitting).collect()
}

pub(super) fn typical(model: &Model, likeness: &Likeness<'_>) -> Vec<TypicalValue> {
    let (combi, more) = (&demo_combi().typical_values, &demo_warewasher().typical_values);
    let more = more.iter().filter(|typical| combi.iter().all(|known| known.of != typical.of));
    let fitting = combi.iter().chain(more).filter(|typical| likeness::applies(model, &typical.of));
    let fitting = fitting.filter_map(|typical| {
        let ratio = of_reference(model, typical).or_else(|| likeness.ratio(&typical.of))?;
        let scaled = |value: f64| likeness::rounded(value * ratio);
        Some(TypicalValue {
            value: scaled(typical.value),
            lower: typical.lower.map(scaled),
            upper: typical.upper.map(scaled),
            ..typical.clone()
        })
    });
    fitting.collect()
}

/// Pressures are usual where the plate's times hold; the limits on them are those of any machine.
fn of_reference(model: &Model, typical: &TypicalValue) -> Option<f64> {
    let reference = match (typical.of.procedure.as_str(), typical.of.step.as_str()) {
        ("inlet_pressure", "static_pressure") => model.reference.static_pressure_bar,
        ("inlet_pressure", "dynamic_pressure") => model.reference.dynamic_pressure_bar,
        _ => return None,
    };
    model.fill.map(|_| reference / typical.value)
}

/// Limits of the plate that no reading of this machine could meet, or that a sound one would miss.
pub(super) fn hold_for_a_sound_machine(plate: &Plate, model: &Model) -> Result<(), Vec<Violation>> {
    let mut violations = Violations::new();
    for violation in model.validate().err().unwrap_or_default() {
        if violation.pointer.starts_with("/functional_limits") {
            violations.add(violation.pointer, violation.detail);
        }
    }
    for (index, limit) in plate.functional_limits.iter().enumerate() {
        let pointer = format!("/functional_limits/{index}");
        if !likeness::applies(model, &limit.of) {
            let steps = steps_that_are_measured(model).join(", ");
            let detail = format!("nothing measures this on the machine; it has limits on {steps}");
            violations.add(format!("{pointer}/of"), detail);
            continue;
        }
        if let Some(read) = quantity_of(limit).filter(|read| *read != limit.quantity) {
            let detail = format!("this is read as {read}");
            violations.add(format!("{pointer}/quantity"), detail);
            continue;
        }
        let Some(typical) = model.typical_value(&limit.of) else { continue };
        let (Ok(bounds), Ok((value, _))) = (limit.canonical(), typical.canonical()) else { continue };
        let detail = format!(
            "a sound machine of this plate reads {} {}, which this limit fails: widen it, or mend the plate",
            typical.value, typical.unit
        );
        violations.require(bounds.contains(value), pointer, detail);
    }
    violations.finish()
}

fn quantity_of(limit: &FunctionalLimit) -> Option<QuantityKind> {
    let procedure = built_in_procedures().iter().find(|procedure| procedure.key == limit.of.procedure)?;
    let read = procedure.step(&limit.of.step)?.quantity()?;
    Some(limit.of.statistic.map_or(read, |statistic| statistic.quantity(read)))
}

fn steps_that_are_measured(model: &Model) -> Vec<String> {
    let fitting = built_in_procedures().iter().filter(|procedure| procedure.applies_to(model));
    let steps = fitting.flat_map(|procedure| procedure.steps.iter().map(move |step| (procedure, step)));
    steps
        .filter(|(_, step)| step.applies_to(model) && step.quantity().is_some())
        .map(|(procedure, step)| format!("{}/{}", procedure.key, step.key))
        .collect()
}
