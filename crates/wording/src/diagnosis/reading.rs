//! A reading in words: what was read, and what was to be expected.

use domain::diagnosis::{Expected, ExplainedReading, ReadAs, Repeats, SetAside};

use crate::figures::{number, percent, unit};
use crate::{say, say_with, term, text};

/// A slip less probable than this is not worth a word.
const WORTH_A_WORD: f64 = 0.05;

/// Predicted against read.
pub fn of_reading(of: &ExplainedReading) -> String {
    let unit = unit(&of.unit);
    let with_unit = |value: f64| format!("{}{unit}", number(value));
    let read = match &of.read {
        ReadAs::Value(value) => with_unit(*value),
        ReadAs::AtLeast(value) => say_with("at-least", &[("value", with_unit(*value).into())]),
        ReadAs::AtMost(value) => say_with("at-most", &[("value", with_unit(*value).into())]),
        ReadAs::Between(low, high) => {
            let variables = [("low", number(*low).into()), ("high", with_unit(*high).into())];
            say_with("judge-judged-between", &variables)
        }
        ReadAs::Choice(choice) => term("choice", choice.as_str()).into_owned(),
    };
    let key = match (of.unexplained, of.misread >= WORTH_A_WORD) {
        (true, _) => "judge-reading-unexplained",
        (false, true) => "judge-reading-slip",
        (false, false) => "judge-reading",
    };
    let variables = [
        ("what", text(&of.title).into_owned().into()),
        ("read", read.into()),
        ("expected", expected(&of.expected, &unit).into()),
        ("slip", percent(of.misread).into()),
    ];
    say_with(key, &variables)
}

fn expected(of: &Expected, unit: &str) -> String {
    match of {
        Expected::Range { low, high, .. } => {
            let variables =
                [("low", number(*low).into()), ("high", format!("{}{unit}", number(*high)).into())];
            say_with("judge-expected-between", &variables)
        }
        Expected::NoValue => say("judge-expected-nothing"),
        Expected::Choices(choices) => {
            let best = choices.iter().max_by(|a, b| a.1.total_cmp(&b.1));
            best.map_or_else(String::new, |(choice, probability)| {
                let variables = [
                    ("choice", term("choice", choice.as_str()).into_owned().into()),
                    ("probability", percent(*probability).into()),
                ];
                say_with("judge-expected-choice", &variables)
            })
        }
        Expected::Anything => say("judge-expected-anything"),
    }
}

pub fn of_set_aside(of: &SetAside) -> String {
    let variables = [("what", of.key.to_string().into()), ("reason", of.reason.clone().into())];
    say_with("judge-set-aside", &variables)
}

pub fn of_repeats(of: &Repeats) -> String {
    let key = if of.disagree { "judge-repeats-differ" } else { "judge-repeats" };
    let what = term("step", of.key.step()).into_owned();
    say_with(key, &[("what", what.into()), ("count", of.observations.len().into())])
}
