//! What is unlikely in a run that may be kept: said to whoever read it while he still stands before the machine.

use super::{Measured, Reading, TestRun};
use crate::equipment::WashStage;
use crate::procedure::{Procedure, Reads, Step};
use crate::quantity::{Meant, QuantityKind};

/// Something in a run that is possible and hardly true. The run is kept as it came; a correction supersedes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// JSON Pointer into the run.
    pub pointer: String,
    pub detail: String,
    /// What was perhaps meant, the likeliest first.
    pub perhaps: Vec<Meant>,
}

/// Water in a wash machine, whatever the kind allows.
const USUAL_WATER: (f64, f64) = (-5.0, 105.0);

/// A choice that another reading of the same run contradicts.
struct Contradiction {
    procedure: &'static str,
    /// Step and choice.
    said: (&'static str, &'static str),
    other: &'static str,
    shows: Shows,
    because: &'static str,
}

enum Shows {
    Choice(&'static str),
    /// A number, or a sample of a series, above 0.
    Something,
}

const CONTRADICTIONS: &[Contradiction] = &[
    Contradiction {
        procedure: "wash_flow_hold",
        said: ("strength", "none"),
        other: "pattern",
        shows: Shows::Choice("even"),
        because: "a spray that wets all round is no flow of none",
    },
    Contradiction {
        procedure: "wash_flow_hold",
        said: ("strength", "none"),
        other: "flow",
        shows: Shows::Something,
        because: "a flow was recorded, so it was not none",
    },
    Contradiction {
        procedure: "wash_flow_hold",
        said: ("strength", "strong"),
        other: "sound",
        shows: Shows::Choice("silent"),
        because: "a silent motor makes no strong flow",
    },
    Contradiction {
        procedure: "chemical_delivery",
        said: ("loaded", "none"),
        other: "delivered",
        shows: Shows::Choice("arrives"),
        because: "chemical that was not loaded does not arrive",
    },
];

/// Everything that is doubtful in a run that [validates](TestRun::validate). Pure: the same run has the same doubts.
pub(super) fn doubts(run: &TestRun, procedure: &Procedure) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    let conditions = &run.conditions;
    let water = (conditions.water_temperature.as_ref(), QuantityKind::Temperature, USUAL_WATER);
    for (field, (value, quantity, usual)) in [
        ("dynamic_pressure", usually(conditions.dynamic_pressure.as_ref(), QuantityKind::DynamicPressure)),
        ("water_temperature", water),
        ("supply_voltage", usually(conditions.supply_voltage.as_ref(), QuantityKind::Voltage)),
    ] {
        if let Some(value) = value {
            doubts.extend(of_value(value, quantity, usual, &format!("/conditions/{field}/value")));
        }
    }
    for (index, reading, step) in read_steps(run, procedure) {
        let pointer = format!("/readings/{index}");
        match (&step.reads, reading) {
            (Reads::Measure { quantity, .. }, Reading { value: Some(value), .. }) => {
                let usual = quantity.ranges().usual;
                doubts.extend(of_value(value, *quantity, usual, &format!("{pointer}/value/value")));
            }
            (Reads::Record { quantity, .. }, Reading { series: Some(series), .. }) => {
                let odd = series.values.iter().position(|value| {
                    quantity.to_canonical(*value, &series.unit).is_ok_and(|value| !quantity.is_usual(value))
                });
                if let Some(sample) = odd {
                    let value = series.values[sample];
                    let meant = quantity.perhaps_meant(value, &series.unit, quantity.ranges().usual);
                    let pointer = format!("{pointer}/series/values/{sample}");
                    doubts.push(unusual(pointer, &format!("{value} {}", series.unit), *quantity, meant));
                }
            }
            _ => {}
        }
    }
    doubts.extend(pressures(run, procedure));
    doubts.extend(stages(run, procedure));
    doubts.extend(contradictions(run));
    doubts
}

fn usually(
    value: Option<&Measured>,
    quantity: QuantityKind,
) -> (Option<&Measured>, QuantityKind, (f64, f64)) {
    (value, quantity, quantity.ranges().usual)
}

fn read_steps<'a>(
    run: &'a TestRun,
    procedure: &'a Procedure,
) -> impl Iterator<Item = (usize, &'a Reading, &'a Step)> {
    let steps = run.readings.iter().enumerate();
    steps.filter_map(|(index, reading)| Some((index, reading, procedure.step(&reading.step)?)))
}

/// The canonical value of a step that measures, with the index of its reading.
fn values<'a>(
    run: &'a TestRun,
    procedure: &'a Procedure,
) -> impl Iterator<Item = (usize, &'a Step, QuantityKind, f64)> {
    read_steps(run, procedure).filter_map(|(index, reading, step)| {
        let Reads::Measure { quantity, .. } = &step.reads else { return None };
        let value = reading.value.as_ref().filter(|value| value.censored.is_none())?;
        Some((index, step, *quantity, value.as_read.canonical(*quantity).ok()?))
    })
}

fn of_value(value: &Measured, quantity: QuantityKind, usual: (f64, f64), pointer: &str) -> Option<Doubt> {
    let read = &value.as_read;
    let canonical = read.canonical(quantity).ok()?;
    if (usual.0..=usual.1).contains(&canonical) {
        return None;
    }
    let meant = quantity.perhaps_meant(read.value, &read.unit, usual);
    let written = match read.hardness_scale {
        None => format!("{} {}", read.value, read.unit),
        Some(scale) => format!("{} {}", read.value, scale.title()),
    };
    Some(unusual(pointer.to_owned(), &written, quantity, meant))
}

fn unusual(pointer: String, written: &str, quantity: QuantityKind, perhaps: Vec<Meant>) -> Doubt {
    let guesses: Vec<String> = perhaps.iter().take(3).map(ToString::to_string).collect();
    let guesses =
        if guesses.is_empty() { String::new() } else { format!(" Perhaps {}?", guesses.join(", or ")) };
    let detail = format!(
        "{written} is kept, and is a {quantity} that hardly occurs.{guesses} If so, correct the run (supersedes_id)."
    );
    Doubt { pointer, detail, perhaps }
}

/// Water that flows has lost pressure: a dynamic pressure above the static one was read wrong, or the two stand in each
/// other's place. What the gauges may err by is allowed for (a tenth of the static pressure and 0.1 bar; common practice, no
/// source).
fn pressures(run: &TestRun, procedure: &Procedure) -> Option<Doubt> {
    let of_kind = |kind: QuantityKind| values(run, procedure).find(|(_, _, quantity, _)| *quantity == kind);
    let (_, _, _, resting) = of_kind(QuantityKind::StaticPressure)?;
    let (index, _, _, flowing) = of_kind(QuantityKind::DynamicPressure)?;
    if flowing <= resting * 1.1 + 0.1 {
        return None;
    }
    let detail = format!(
        "the dynamic pressure, {flowing:.2} bar, lies above the static pressure, {resting:.2} bar, and water that flows loses \
         pressure. Perhaps the two were exchanged? If so, correct the run (supersedes_id)."
    );
    let perhaps = vec![Meant { value: resting, unit: "bar", hardness_scale: None }];
    Some(Doubt { pointer: format!("/readings/{index}/value/value"), detail, perhaps })
}

/// Times to stages of heating run on one clock, so a hotter stage comes later.
fn stages(run: &TestRun, procedure: &Procedure) -> Vec<Doubt> {
    let mut reached: Vec<(WashStage, usize, &Step, f64)> = values(run, procedure)
        .filter(|(_, _, quantity, _)| *quantity == QuantityKind::Duration)
        .filter_map(|(index, step, _, seconds)| Some((step.stage()?, index, step, seconds)))
        .collect();
    reached.sort_by_key(|(stage, ..)| *stage);
    let falls = |pair: &&[(WashStage, usize, &Step, f64)]| pair[1].3 < pair[0].3;
    reached
        .windows(2)
        .filter(falls)
        .map(|pair| {
            let ((_, _, before, first), (_, index, after, then)) = (pair[0], pair[1]);
            let detail = format!(
                "{} ({then} s) is shorter than {} ({first} s), and the hotter stage comes later on the same clock. Perhaps it \
                 was timed from the stage before: {} s in all? If so, correct the run (supersedes_id).",
                after.key,
                before.key,
                first + then
            );
            let perhaps = vec![Meant { value: first + then, unit: "s", hardness_scale: None }];
            Doubt { pointer: format!("/readings/{index}/value/value"), detail, perhaps }
        })
        .collect()
}

fn contradictions(run: &TestRun) -> impl Iterator<Item = Doubt> {
    let reading = |step: &str| run.readings.iter().position(|reading| reading.step.as_str() == step);
    let is =
        |reading: &Reading, choice: &str| reading.choice.as_ref().is_some_and(|key| key.as_str() == choice);
    let of_procedure = |rule: &&Contradiction| run.procedure.key.as_str() == rule.procedure;
    CONTRADICTIONS.iter().filter(of_procedure).filter_map(move |rule| {
        let (step, choice) = rule.said;
        let said = reading(step).filter(|index| is(&run.readings[*index], choice))?;
        let other = &run.readings[reading(rule.other)?];
        let shown = match rule.shows {
            Shows::Choice(choice) => is(other, choice),
            Shows::Something => {
                other.series.as_ref().is_some_and(|series| series.values.iter().any(|value| *value > 0.0))
                    || other.value.as_ref().is_some_and(|value| value.as_read.value > 0.0)
            }
        };
        let detail = format!(
            "{step} says {choice}, and {} speaks against it: {}. If one was tapped by mistake, correct the run (supersedes_id).",
            rule.other, rule.because
        );
        shown.then(|| Doubt { pointer: format!("/readings/{said}/choice"), detail, perhaps: Vec::new() })
    })
}

#[cfg(test)]
mod tests;
