//! A verdict in plain words: the value, the limit, what healthy machines show, and what to make of it.

use domain::equipment::Bounds;
use domain::evidence::Censored;
use domain::grading::{Comparison, Conformity, Grading, Reason, ReferenceSource, Verdict};
use domain::quantity::QuantityKind;
use domain::text::Key;

use crate::figures::significant;
use crate::{Unit, decimal, say, say_with, term, text};

/// All of it in one sentence.
pub fn sentence(of: &Verdict) -> String {
    // Frozen before words were made of it.
    if of.said.title.is_empty() {
        return of.sentence.clone();
    }
    match &of.said.choice {
        Some(choice) => of_choice(of, choice),
        None => of_number(of),
    }
}

fn of_choice(of: &Verdict, choice: &str) -> String {
    let (key, grading) = if of.as_found.reason.is_some() {
        ("verdict-choice-cannot", &of.as_found)
    } else if of.at_reference.reason.is_some() {
        ("verdict-choice-not-told", &of.at_reference)
    } else {
        ("verdict-choice", &of.as_found)
    };
    let variables = [
        ("what", text(&of.said.title).into_owned().into()),
        ("choice", text(choice).into_owned().into()),
        ("reason", why(grading).into()),
    ];
    say_with(key, &variables)
}

fn of_number(of: &Verdict) -> String {
    let mut what = text(&of.said.title).into_owned();
    if let Some(cel) = of.said.stage_cel {
        what = format!("{what} ({})", with_unit(cel, Some(QuantityKind::Temperature)));
    }
    if let Some(statistic) = of.of.statistic {
        what = format!("{what}, {}", term("said-statistic", statistic.key()));
    }
    let judged = if of.as_found.conformity == Conformity::Inconclusive {
        say_with("verdict-cannot", &[("reason", why(&of.as_found).into())])
    } else {
        at_reference(of, against_limit(of))
    };
    let variables = [
        ("what", what.into()),
        ("read", bounded(of, of.as_found.value).into()),
        ("judged", judged.into()),
        ("compared", of.comparison.map(|comparison| compared(of, comparison)).unwrap_or_default().into()),
    ];
    say_with(if of.comparison.is_some() { "verdict-compared" } else { "verdict-alone" }, &variables)
}

fn against_limit(of: &Verdict) -> String {
    let limit = of.limit.map_or(Bounds::default(), |limit| limit.bounds);
    let key = match of.as_found.conformity {
        Conformity::Pass => "verdict-pass",
        Conformity::ConditionalPass => "verdict-narrow-pass",
        Conformity::ConditionalFail => "verdict-narrow-fail",
        Conformity::Fail | Conformity::Inconclusive => "verdict-fail",
    };
    say_with(key, &[("limit", interval(limit, of.quantity).into())])
}

/// What holds at reference, behind what was found.
fn at_reference(of: &Verdict, judged: String) -> String {
    let part = of
        .position
        .map_or_else(|| say("verdict-part"), |position| term("position", position.key()).into_owned());
    let found = of.as_found.conformity.is_inside();
    let Some(healthy) = of.at_reference.conformity.is_inside() else {
        let variables =
            [("judged", judged.into()), ("part", part.into()), ("reason", why(&of.at_reference).into())];
        return say_with("verdict-not-told", &variables);
    };
    let Some(value) = of.at_reference.value.filter(|_| of.said.is_corrected) else { return judged };
    let key = match (found == Some(healthy), healthy) {
        (true, true) => "verdict-and-keeps",
        (true, false) => "verdict-and-misses",
        (false, true) => "verdict-but-keeps",
        (false, false) => "verdict-but-misses",
    };
    let mut said = say_with(key, &[("judged", judged.into()), ("value", bounded(of, Some(value)).into())]);
    let bar = of.said.pressure.map(|pressure| pressure.bar);
    let key = match (found, healthy, bar) {
        (Some(false), true, Some(bar)) if bar < of.said.reference_pressure_bar => {
            Some("verdict-part-healthy-low")
        }
        (Some(false), true, Some(_)) => Some("verdict-part-healthy"),
        (Some(true), false, Some(_)) => Some("verdict-hides-weak"),
        _ => None,
    };
    if let Some(key) = key {
        let variables = [
            ("said", said.into()),
            ("part", part.into()),
            ("bar", significant(bar.unwrap_or_default()).into()),
            ("wanted", significant(of.said.reference_pressure_bar).into()),
        ];
        said = say_with(key, &variables);
    }
    if of.said.pressure.is_some_and(|pressure| pressure.elsewhere) {
        said = say_with("verdict-elsewhere", &[("said", said.into())]);
    }
    said
}

fn compared(of: &Verdict, comparison: Comparison) -> String {
    let reference = comparison.reference;
    let range = interval(reference.bounds, of.quantity);
    let range = match reference.n {
        Some(n) => say_with("verdict-range-n", &[("range", range.into()), ("n", n.to_string().into())]),
        None => range,
    };
    let value = of.at_reference.value.filter(|_| of.said.is_corrected);
    let key = match (value.is_some(), comparison.usual) {
        (true, true) => "verdict-value-usual",
        (true, false) => "verdict-value-unusual",
        (false, true) => "verdict-usual",
        (false, false) => "verdict-unusual",
    };
    let source = match reference.source {
        ReferenceSource::OwnReadings => "verdict-own-readings",
        ReferenceSource::Fleet => "verdict-fleet",
        ReferenceSource::ModelTypical => "verdict-model",
    };
    let value = value.map(|value| with_unit(value, of.quantity)).unwrap_or_default();
    say_with(key, &[("value", value.into()), ("reference", say(source).into()), ("range", range.into())])
}

/// A value, or the bound that was read.
fn bounded(of: &Verdict, value: Option<f64>) -> String {
    let Some(value) = value else { return say("no-value") };
    let value = with_unit(value, of.quantity);
    match of.censored {
        None => value,
        Some(Censored::AtLeast) => say_with("at-least", &[("value", value.into())]),
        Some(Censored::AtMost) => say_with("at-most", &[("value", value.into())]),
    }
}

fn interval(bounds: Bounds, quantity: Option<QuantityKind>) -> String {
    match (bounds.lower, bounds.upper) {
        (Some(lower), Some(upper)) => {
            let variables = [
                ("lower", significant(unit_of(quantity).told(lower)).into()),
                ("upper", with_unit(upper, quantity).into()),
            ];
            say_with("model-between", &variables)
        }
        (Some(lower), None) => say_with("at-least", &[("value", with_unit(lower, quantity).into())]),
        (None, Some(upper)) => say_with("at-most", &[("value", with_unit(upper, quantity).into())]),
        (None, None) => say("verdict-no-limit"),
    }
}

fn unit_of(quantity: Option<QuantityKind>) -> Unit {
    Unit::of(quantity.map_or("", QuantityKind::canonical_unit))
}

fn with_unit(value: f64, quantity: Option<QuantityKind>) -> String {
    let unit = unit_of(quantity);
    let value = significant(unit.told(value));
    match unit.name() {
        "" => value,
        "/min" => say_with("verdict-per-minute", &[("value", value.into())]),
        name => format!("{value} {name}"),
    }
}

fn why(grading: &Grading) -> String {
    reason(grading.reason.as_ref().unwrap_or(&Reason::NoLimit))
}

/// Why a grading is inconclusive.
pub fn reason(of: &Reason) -> String {
    let read = |key: &str, step: &Key, procedure: &Key| {
        let word = |list: &str, key: &Key| term(list, key.as_str()).into_owned().into();
        say_with(key, &[("what", word("step", step)), ("test", word("procedure", procedure))])
    };
    match of {
        Reason::NoLimit => say("verdict-reason-no-limit"),
        Reason::InstrumentTooCoarse { standard_uncertainty, allowed } => {
            let variables = [
                ("uncertainty", decimal(format!("{standard_uncertainty:.3}")).into()),
                ("allowed", decimal(format!("{allowed:.3}")).into()),
            ];
            say_with("verdict-reason-too-coarse", &variables)
        }
        Reason::CalibrationLongExpired => say("verdict-reason-expired"),
        Reason::StoppedTooEarly => say("verdict-reason-too-early"),
        Reason::NotRead { procedure, step } => read("verdict-reason-not-read", step, procedure),
        Reason::PrerequisiteFailed { procedure, step } => {
            read("verdict-reason-failed-first", step, procedure)
        }
        Reason::PrerequisiteInconclusive { procedure, step } => {
            read("verdict-reason-inconclusive", step, procedure)
        }
        Reason::NotConfirmed { statement } => {
            let statement = text(statement.as_str());
            let statement = statement.trim_end_matches('.').to_owned();
            say_with("verdict-reason-not-confirmed", &[("statement", statement.into())])
        }
        Reason::SumpLevelNotRead => say("verdict-reason-level-not-read"),
        Reason::SumpUnderFilled { level_l, needed_l } => {
            let variables = [
                ("level", decimal(format!("{level_l:.2}")).into()),
                ("needed", decimal(format!("{needed_l:.2}")).into()),
            ];
            say_with("verdict-reason-under-filled", &variables)
        }
        Reason::NothingFlowed => say("verdict-reason-nothing-flowed"),
        Reason::NotCorrectable { detail } => {
            say_with("verdict-reason-not-correctable", &[("detail", detail.clone().into())])
        }
    }
}
