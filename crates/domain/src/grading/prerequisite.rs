//! What must hold before a reading means anything: a prerequisite that failed or was not read makes the
//! gradings that it blocks inconclusive.
//!
//! Whether a prerequisite failed is told by its own reading alone, not by *its* prerequisites: the rule
//! cannot run in circles, and each verdict names the step that a technician has to go back to.

use super::evidence_index::Found;
use super::verdict::Grader;
use super::{Conformity, GradingError, Reason};
use crate::evidence::{Measured, TestRun};
use crate::procedure::{Blocks, Precondition, Procedure, Reads, Step};
use crate::quantity::QuantityKind;
use crate::text::Key;
use crate::vocabulary::Condition;

/// The first reason for which gradings of the step are blocked at this level; `EveryGrading` blocks
/// both, so it is asked first.
pub(super) fn first_unmet(
    grader: &Grader<'_>,
    run: &TestRun,
    procedure: &Procedure,
    step: &Step,
    level: Blocks,
) -> Result<Option<Reason>, GradingError> {
    if level == Blocks::EveryGrading
        && let Some(level_step) = step.sump_level_step()
        && let Some(reason) = sump_level(grader, run, procedure, level_step)?
    {
        return Ok(Some(reason));
    }
    for precondition in procedure.preconditions.iter().filter(|precondition| precondition.blocks() == level) {
        if let Some(reason) = unmet(grader, run, precondition)? {
            return Ok(Some(reason));
        }
    }
    Ok(None)
}

/// What the run itself says of the conditions that a step elsewhere would measure.
pub(super) fn own_condition(run: &TestRun, quantity: QuantityKind) -> Option<&Measured> {
    match quantity {
        QuantityKind::DynamicPressure => run.conditions.dynamic_pressure.as_ref(),
        QuantityKind::Voltage => run.conditions.supply_voltage.as_ref(),
        QuantityKind::Temperature => run.conditions.water_temperature.as_ref(),
        _ => None,
    }
}

fn unmet(
    grader: &Grader<'_>,
    run: &TestRun,
    precondition: &Precondition,
) -> Result<Option<Reason>, GradingError> {
    match precondition {
        Precondition::Confirmed { key, statement, .. } => {
            let confirmed = run.conditions.confirmed.contains(key);
            Ok((!confirmed).then(|| Reason::NotConfirmed { statement: statement.clone() }))
        }
        Precondition::Read { procedure, step, .. } => {
            let known = grader.evidence.newest(procedure).and_then(|procedure| procedure.step(step));
            let condition = known.and_then(Step::quantity).and_then(|quantity| own_condition(run, quantity));
            let met = grader.evidence.latest(procedure, step).is_some()
                || condition.is_some()
                || grader.evidence.elsewhere(procedure, step).is_some()
                || known.is_some_and(|step| !step.applies_to(grader.model));
            Ok((!met).then(|| Reason::NotRead { procedure: procedure.clone(), step: step.clone() }))
        }
        Precondition::Passed { procedure, step: only, .. } => {
            let Some(other) = grader.evidence.newest(procedure) else {
                let step = only.clone().unwrap_or_else(|| procedure.clone());
                return Ok(Some(Reason::NotRead { procedure: procedure.clone(), step }));
            };
            let speaks = |step: &&Step| {
                only.as_ref().is_none_or(|only| *only == step.key)
                    && step.applies_to(grader.model)
                    && (!step.about.is_empty() || matches!(step.reads, Reads::Choose { .. }))
            };
            for step in other.steps.iter().filter(speaks) {
                if let Some(reason) = not_passed(grader, other, step)? {
                    return Ok(Some(reason));
                }
            }
            Ok(None)
        }
    }
}

fn not_passed(
    grader: &Grader<'_>,
    procedure: &Procedure,
    step: &Step,
) -> Result<Option<Reason>, GradingError> {
    let (procedure_key, step_key) = (procedure.key.clone(), step.key.clone());
    let Some(found) = grader.evidence.latest(&procedure.key, &step.key) else {
        let reason = Reason::NotRead { procedure: procedure_key, step: step_key };
        return Ok((!step.optional).then_some(reason));
    };
    Ok(match raw_outcome(grader, procedure, found)? {
        Some(false) => Some(Reason::PrerequisiteFailed { procedure: procedure_key, step: step_key }),
        Some(true) => None,
        None => Some(Reason::PrerequisiteInconclusive { procedure: procedure_key, step: step_key }),
    })
}

/// Whether the reading alone lies inside its limit; a reading without a limit counts as read.
fn raw_outcome(
    grader: &Grader<'_>,
    procedure: &Procedure,
    found: Found<'_>,
) -> Result<Option<bool>, GradingError> {
    if let Some(choice) = &found.reading.choice {
        return Ok(found.step.choice(choice).map(|choice| choice.condition != Condition::Failed));
    }
    for (of, assessed) in Grader::measurements(found.run, procedure, found.step, found.reading)? {
        let grading = grader.raw(assessed, &of, found.step);
        match grading.conformity {
            Conformity::Inconclusive if grading.reason == Some(Reason::NoLimit) => {}
            Conformity::Inconclusive => return Ok(None),
            word if word.is_inside() == Some(false) => return Ok(Some(false)),
            _ => {}
        }
    }
    Ok(Some(true))
}

/// A wash run from too little water starves a good pump: the litres before the run must be known, and
/// enough for the model's pump to reach full flow while the first water is on its way round.
fn sump_level(
    grader: &Grader<'_>,
    run: &TestRun,
    procedure: &Procedure,
    level_step: &Key,
) -> Result<Option<Reason>, GradingError> {
    let Some(needed_l) = grader.level_for_full_flow else { return Ok(None) };
    let value = run.reading(level_step).and_then(|reading| reading.value.as_ref());
    let (Some(value), Some(step)) = (value, procedure.step(level_step)) else {
        return Ok(Some(Reason::SumpLevelNotRead));
    };
    let level_l = super::assess(value, step, run.taken_at)?.value;
    Ok((level_l < needed_l).then_some(Reason::SumpUnderFilled { level_l, needed_l }))
}
