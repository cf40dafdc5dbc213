//! The rules that a company's own procedure must hold, all checked, none stopping the others.

use std::collections::BTreeSet;

use super::{Correction, Place, Precondition, Procedure, Reads, Step};
use crate::quantity::QuantityKind;
use crate::text::Key;
use crate::violation::{Violation, Violations};
use crate::vocabulary::Condition;

pub(super) fn validate(procedure: &Procedure) -> Result<(), Vec<Violation>> {
    let mut violations = Violations::new();
    violations.require(procedure.version > 0, "/version", "must be at least 1");
    let minutes = procedure.minutes.is_finite() && procedure.minutes > 0.0 && procedure.minutes <= 1440.0;
    violations.require(minutes, "/minutes", "must be greater than 0 and at most 1440");
    violations.require(!procedure.positions.is_empty(), "/positions", "must list at least one position");
    violations.require(!procedure.cautions.is_empty(), "/cautions", "must name at least one caution");
    for (index, caution) in procedure.cautions.iter().enumerate() {
        if let Some(unknown) = Place::unknown_in(caution.text.as_str()) {
            let known: Vec<_> = Place::ALL.into_iter().map(Place::mark).collect();
            let detail = format!("no model fills {{{unknown}}}: a caution may have {}", known.join(", "));
            violations.add(format!("/cautions/{index}/text"), detail);
        }
    }
    violations.require(!procedure.steps.is_empty(), "/steps", "must have at least one step");
    preconditions(procedure, &mut violations);
    let mut seen = BTreeSet::new();
    for (index, step) in procedure.steps.iter().enumerate() {
        let pointer = format!("/steps/{index}");
        let is_new = seen.insert(&step.key);
        violations.require(is_new, format!("{pointer}/key"), "another step has this key: each needs its own");
        step_rules(procedure, step, &pointer, &mut violations);
    }
    violations.finish()
}

fn preconditions(procedure: &Procedure, violations: &mut Violations) {
    for (index, precondition) in procedure.preconditions.iter().enumerate() {
        if let Precondition::Read { procedure: other, .. } | Precondition::Passed { procedure: other, .. } =
            precondition
        {
            let detail = "a procedure cannot be its own precondition";
            violations.require(*other != procedure.key, format!("/preconditions/{index}/procedure"), detail);
        }
    }
}

fn step_rules(procedure: &Procedure, step: &Step, pointer: &str, violations: &mut Violations) {
    for (index, position) in step.about.iter().enumerate() {
        let detail = format!("{position} must also stand in the procedure's positions");
        violations.require(
            procedure.positions.contains(position),
            format!("{pointer}/about/{index}"),
            detail,
        );
    }
    for (index, needed) in step.needs_steps.iter().enumerate() {
        let holds = *needed != step.key && procedure.step(needed).is_some();
        violations.require(
            holds,
            format!("{pointer}/needs_steps/{index}"),
            "must be the key of another step",
        );
    }
    if let Some(defeat) = &step.interlock_defeat {
        let holds = (1..=60).contains(&defeat.time_limit_minutes);
        violations.require(
            holds,
            format!("{pointer}/interlock_defeat/time_limit_minutes"),
            "must be from 1 to 60",
        );
    }
    let measures = matches!(step.reads, Reads::Measure { .. });
    violations.require(
        step.signals.is_none() || measures,
        format!("{pointer}/signals"),
        "belongs to a measured value; a choice says it by itself",
    );
    match &step.reads {
        Reads::Measure { quantity, clock, stage, tap, judged, correction, capacity_step, .. } => {
            let is_duration = *quantity == QuantityKind::Duration;
            let is_pressure =
                matches!(quantity, QuantityKind::StaticPressure | QuantityKind::DynamicPressure);
            violations.require(
                clock.is_none() || is_duration,
                format!("{pointer}/reads/clock"),
                "belongs to a duration",
            );
            violations.require(
                stage.is_none() || is_duration,
                format!("{pointer}/reads/stage"),
                "belongs to a duration: the time to that stage of the wash",
            );
            violations.require(
                !judged || is_duration,
                format!("{pointer}/reads/judged"),
                "belongs to a duration",
            );
            violations.require(
                tap.is_none() || is_pressure,
                format!("{pointer}/reads/tap"),
                "belongs to a pressure",
            );
            if let Some(correction) = correction {
                correction_rules(procedure, step, correction, *quantity, pointer, violations);
            }
            if let Some(capacity) = capacity_step {
                measured(
                    procedure,
                    capacity,
                    *quantity,
                    &format!("{pointer}/reads/capacity_step"),
                    violations,
                );
            }
        }
        Reads::Choose { choices, .. } => {
            let pointer = format!("{pointer}/reads/choices");
            violations.require(choices.len() >= 2, &pointer, "must offer at least two choices");
            let mut seen = BTreeSet::new();
            for (index, choice) in choices.iter().enumerate() {
                let is_new = seen.insert(&choice.key);
                violations.require(is_new, format!("{pointer}/{index}/key"), "another choice has this key");
                let needs_mode = matches!(choice.condition, Condition::Degraded | Condition::Failed);
                if needs_mode && choice.failure_mode.is_none() && !step.about.is_empty() {
                    let detail = "is required where the choice proposes degraded or failed";
                    violations.add(format!("{pointer}/{index}/failure_mode"), detail);
                }
            }
        }
        Reads::Record { minimum_samples, .. } => {
            let detail = "must be from 2 to 100000";
            let holds = (2..=100_000).contains(minimum_samples);
            violations.require(holds, format!("{pointer}/reads/minimum_samples"), detail);
        }
    }
    if let Some(level) = step.sump_level_step() {
        let pointer = format!("{pointer}/reads/sump_level_step");
        measured(procedure, level, QuantityKind::Volume, &pointer, violations);
    }
}

fn correction_rules(
    procedure: &Procedure,
    step: &Step,
    correction: &Correction,
    quantity: QuantityKind,
    pointer: &str,
    violations: &mut Violations,
) {
    let takes = match correction {
        Correction::FillTime | Correction::HeatingTime { .. } => QuantityKind::Duration,
        Correction::CaughtVolume { .. } => QuantityKind::Volume,
    };
    let here = format!("{pointer}/reads/correction");
    violations.require(quantity == takes, &here, format!("this correction takes a {takes}"));
    match correction {
        Correction::FillTime => {
            let detail = "is required for a fill time: it says whether the valve's opening is in it";
            let has_clock = matches!(step.reads, Reads::Measure { clock: Some(_), .. });
            violations.require(has_clock, format!("{pointer}/reads/clock"), detail);
        }
        Correction::CaughtVolume { call_step } => {
            if let Some(call) = call_step {
                measured(procedure, call, QuantityKind::Duration, &format!("{here}/call_step"), violations);
            }
        }
        Correction::HeatingTime { start_step } => {
            let detail = "is required for a heating time: the stage of the wash to which it is timed";
            violations.require(step.stage().is_some(), format!("{pointer}/reads/stage"), detail);
            if let Some(start) = start_step {
                measured(
                    procedure,
                    start,
                    QuantityKind::Temperature,
                    &format!("{here}/start_step"),
                    violations,
                );
            }
        }
    }
}

/// Requires that `key` is a step that measures `quantity`.
fn measured(
    procedure: &Procedure,
    key: &Key,
    quantity: QuantityKind,
    pointer: &str,
    violations: &mut Violations,
) {
    let step = procedure.step(key);
    let holds = step
        .is_some_and(|step| matches!(step.reads, Reads::Measure { quantity: read, .. } if read == quantity));
    violations.require(holds, pointer, format!("must be the key of a step that measures a {quantity}"));
}

#[cfg(test)]
mod tests {
    use crate::equipment::WashStage;
    use crate::procedure::{Correction, Reads, built_in_procedures};
    use crate::quantity::QuantityKind;
    use crate::text::Words;

    #[test]
    fn a_heating_time_names_its_stage_and_a_caution_only_places_that_exist() {
        let heating = built_in_procedures().iter().find(|of| of.key.as_str() == "staged_heating").unwrap();
        let mut procedure = heating.clone();
        let Reads::Measure { stage, .. } = &mut procedure.steps[1].reads else { unreachable!() };
        *stage = None;
        procedure.cautions[0].text = Words::new("Hot, up to {hottest}.").unwrap();
        let violations = procedure.validate().unwrap_err();
        let pointers: Vec<_> = violations.iter().map(|violation| violation.pointer.as_str()).collect();
        assert_eq!(pointers, ["/cautions/0/text", "/steps/1/reads/stage"]);
        assert!(violations[0].detail.contains("{highest_temperature}"), "{}", violations[0].detail);
    }

    #[test]
    fn all_violations_are_named_at_once() {
        let fill =
            built_in_procedures().iter().find(|procedure| procedure.key.as_str() == "fill_time").unwrap();
        let mut procedure = fill.clone();
        procedure.minutes = f64::INFINITY;
        procedure.cautions.clear();
        let mut twice = procedure.steps[0].clone();
        twice.reads = Reads::Measure {
            quantity: QuantityKind::Volume,
            clock: None,
            stage: Some(WashStage::First),
            tap: None,
            judged: true,
            correction: Some(Correction::FillTime),
            sump_level_step: Some(twice.key.clone()),
            capacity_step: None,
        };
        procedure.steps.push(twice);
        let last = procedure.steps.len() - 1;
        let violations = procedure.validate().unwrap_err();
        let pointers: Vec<_> = violations.iter().map(|violation| violation.pointer.clone()).collect();
        assert_eq!(
            pointers,
            [
                "/minutes".to_owned(),
                "/cautions".to_owned(),
                format!("/steps/{last}/key"),
                format!("/steps/{last}/reads/stage"),
                format!("/steps/{last}/reads/judged"),
                format!("/steps/{last}/reads/correction"),
                format!("/steps/{last}/reads/clock"),
                format!("/steps/{last}/reads/sump_level_step"),
            ]
        );
    }
}
