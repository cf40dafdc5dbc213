//! What one run says of dangers.

use super::Danger;
use crate::equipment::{FunctionalLimit, Model};
use crate::evidence::{Censored, Measured, Reading, TestRun};
use crate::procedure::{Blocks, Precondition, Procedure, Reads, Step};
use crate::text::Key;
use crate::vocabulary::Condition;

/// A reading that tells of a danger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sign<'a> {
    pub step: &'a Key,
    pub danger: Danger,
}

/// What a run tells of dangers, whether or not its preconditions held: a danger is believed at once.
pub fn signs<'a>(run: &'a TestRun, procedure: &Procedure, model: &Model) -> Vec<Sign<'a>> {
    let danger_of = |reading: &Reading| {
        let step = procedure.step(&reading.step)?;
        match (&step.reads, &reading.choice, &reading.value) {
            (Reads::Choose { choices, .. }, Some(chosen), _) => {
                choices.iter().find(|choice| choice.key == *chosen)?.signals
            }
            (Reads::Measure { .. }, _, Some(value)) => {
                step.signals.filter(|_| keeps_limit(procedure, step, value, model) == Some(false))
            }
            _ => None,
        }
    };
    let sign = |reading: &'a Reading| Some(Sign { step: &reading.step, danger: danger_of(reading)? });
    run.readings.iter().filter_map(sign).collect()
}

/// The procedures that look for a danger on this model. Without any, only a person's word ends it.
pub fn looks<'a>(
    danger: Danger,
    procedures: &'a [Procedure],
    model: &'a Model,
) -> impl Iterator<Item = &'a Procedure> {
    procedures.iter().filter(move |procedure| {
        let looks = |step: &Step| step.looks_for.contains(&danger) && step.applies_to(model);
        procedure.applies_to(model) && procedure.steps.iter().any(looks)
    })
}

/// Whether a run shows that a danger is over: every step that looks for it reads healthy, under the conditions that
/// the procedure asks for. A measured value must keep the model's limit, all but surely; without a limit nothing is shown.
pub fn answered_by(run: &TestRun, procedure: &Procedure, model: &Model, danger: Danger) -> bool {
    let confirmed = procedure.preconditions.iter().all(|precondition| match precondition {
        Precondition::Confirmed { key, blocks: Blocks::EveryGrading, .. } => {
            run.conditions.confirmed.contains(key)
        }
        _ => true,
    });
    let mut looking = procedure
        .steps
        .iter()
        .filter(|step| step.looks_for.contains(&danger) && step.applies_to(model))
        .filter(|step| !step.optional || run.reading(&step.key).is_some())
        .peekable();
    let reads_healthy = |step: &Step| {
        let Some(reading) = run.reading(&step.key) else { return false };
        match (&step.reads, &reading.choice, &reading.value) {
            (Reads::Choose { choices, .. }, Some(chosen), _) => {
                choices.iter().any(|choice| choice.key == *chosen && choice.condition == Condition::Ok)
            }
            (Reads::Measure { .. }, _, Some(value)) => {
                keeps_limit(procedure, step, value, model) == Some(true)
            }
            _ => false,
        }
    };
    confirmed && looking.peek().is_some() && looking.all(reads_healthy)
}

/// Whether a value keeps the model's limit of its step; none where there is no limit, or where the number only bounds
/// the value and leaves that open.
fn keeps_limit(procedure: &Procedure, step: &Step, value: &Measured, model: &Model) -> Option<bool> {
    let speaks_of_it = |limit: &&FunctionalLimit| {
        limit.of.procedure == procedure.key && limit.of.step == step.key && limit.of.statistic.is_none()
    };
    let limit = model.functional_limits.iter().find(speaks_of_it)?;
    let (bounds, value_read) = (limit.canonical().ok()?, value.as_read.canonical(limit.quantity).ok()?);
    let below = bounds.lower.map(|lower| value_read < lower);
    let above = bounds.upper.map(|upper| value_read > upper);
    match value.censored {
        None => Some(below != Some(true) && above != Some(true)),
        Some(Censored::AtLeast) if above == Some(true) => Some(false),
        Some(Censored::AtLeast) if below == Some(false) && above.is_none() => Some(true),
        Some(Censored::AtMost) if below == Some(true) => Some(false),
        Some(Censored::AtMost) if above == Some(false) && below.is_none() => Some(true),
        Some(_) => None,
    }
}
