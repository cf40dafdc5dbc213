//! One step of a procedure as a form shows it: what to do, one control by its kind, and how to skip it.

use domain::equipment::Model;
use domain::procedure::{Clock, Procedure, Reads, Step};
use domain::quantity::QuantityKind;

use super::answers::Faults;
use super::numbers;
use crate::fields::Fields;
use crate::parts::moves::Choice;

pub(super) struct StepView {
    pub key: String,
    /// `2 / 5`.
    pub place: String,
    pub title: String,
    pub instruction: String,
    pub is_optional: bool,
    /// What it takes away, if it takes a protection away.
    pub defeats: Option<String>,
    pub control: Control,
    pub why: String,
    pub is_skipped: bool,
    pub refusals: Vec<String>,
}

pub(super) enum Control {
    /// A time: by touch where there is script, else typed.
    Watch {
        clock: String,
        value: String,
        units: Vec<Choice>,
        is_running_still: bool,
        was_touched: bool,
    },
    Number {
        value: String,
        units: Vec<Choice>,
        bounds: Vec<Choice>,
    },
    Choose(Vec<Choice>),
    /// Seconds and values, a sample a line.
    Series {
        text: String,
        units: Vec<Choice>,
        label: String,
    },
    /// It opens an interlock, and no defeat is recorded that lasts.
    Closed,
}

/// The steps that mean something on this model.
pub(super) fn steps_of<'a>(
    procedure: &'a Procedure,
    model: Option<&'a Model>,
) -> impl Iterator<Item = &'a Step> {
    procedure.steps.iter().filter(move |step| model.is_none_or(|model| step.applies_to(model)))
}

/// The name of a step's field.
pub(super) fn field(what: &str, step: &str) -> String {
    format!("{what}:{step}")
}

/// The steps with what was typed and what is wrong with it.
pub(super) fn views(
    procedure: &Procedure,
    model: Option<&Model>,
    is_defeated: bool,
    typed: &Fields,
    faults: &Faults,
) -> Vec<StepView> {
    let count = steps_of(procedure, model).count();
    steps_of(procedure, model)
        .enumerate()
        .map(|(index, step)| {
            let key = step.key.as_str();
            let is_closed = step.interlock_defeat.is_some() && !is_defeated;
            let control = if is_closed { Control::Closed } else { control(step, typed) };
            let why = typed.raw(&field("why", key));
            StepView {
                key: key.to_owned(),
                place: format!("{} / {count}", index + 1),
                title: wording::text(step.title.as_str()).into_owned(),
                instruction: wording::text(step.instruction.as_str()).into_owned(),
                is_optional: step.optional,
                defeats: step
                    .interlock_defeat
                    .as_ref()
                    .map(|defeat| wording::text(defeat.what.as_str()).into_owned()),
                why: if is_closed && why.is_empty() {
                    wording::say("step-not-defeated")
                } else {
                    why.to_owned()
                },
                is_skipped: is_closed || !why.is_empty(),
                refusals: faults.of(key),
                control,
            }
        })
        .collect()
}

fn control(step: &Step, typed: &Fields) -> Control {
    let key = step.key.as_str();
    let (value, unit) = (typed.raw(&field("value", key)).to_owned(), typed.raw(&field("unit", key)));
    match &step.reads {
        Reads::Measure { quantity: QuantityKind::Duration, clock, .. } => Control::Watch {
            clock: wording::say(match clock {
                Some(Clock::FromCommand) => "clock-from-command",
                Some(Clock::FromFirstWater) => "clock-from-first-water",
                None => "clock-from-start",
            }),
            value,
            units: numbers::units(QuantityKind::Duration, unit),
            is_running_still: typed.raw(&field("bound", key)) == "at_least",
            was_touched: typed.get(&field("touched", key)).is_some(),
        },
        Reads::Measure { quantity, .. } => Control::Number {
            value,
            units: numbers::units(*quantity, unit),
            bounds: ["", "at_least", "at_most"]
                .map(|bound| Choice {
                    value: bound.to_owned(),
                    label: wording::say(match bound {
                        "at_least" => "bound-at-least",
                        "at_most" => "bound-at-most",
                        _ => "bound-none",
                    }),
                    is_chosen: typed.raw(&field("bound", key)) == bound,
                })
                .into(),
        },
        Reads::Choose { choices, .. } => Control::Choose(
            choices
                .iter()
                .map(|choice| Choice {
                    is_chosen: typed.raw(&field("choice", key)) == choice.key.as_str(),
                    value: choice.key.to_string(),
                    label: wording::text(choice.title.as_str()).into_owned(),
                })
                .collect(),
        ),
        Reads::Record { quantity, minimum_samples, .. } => Control::Series {
            text: typed.raw(&field("series", key)).to_owned(),
            units: numbers::units(*quantity, unit),
            label: wording::say_with("series-typed", &[("minimum", (*minimum_samples).into())]),
        },
    }
}
