//! A verdict in plain words: the value, the limit, what healthy machines show, and what to make of it.

use std::fmt::Write as _;

use super::verdict::{Grading, Verdict};
use super::{Conformity, PressureDuring, Reason};
use crate::equipment::{Bounds, Model, SeriesStatistic};
use crate::evidence::Censored;
use crate::procedure::{Choice, Step};
use crate::quantity::QuantityKind;

/// `pressure` is the dynamic pressure from which the value was corrected.
pub(super) fn of_number(
    verdict: &Verdict,
    step: &Step,
    model: &Model,
    pressure: Option<PressureDuring>,
) -> String {
    let unit = verdict.quantity.map_or("", unit);
    let mut text = String::with_capacity(320);
    text.push_str(step.title_shown(Some(model)).as_str());
    text.push_str(statistic(verdict.of.statistic));
    text.push_str(": ");
    match (verdict.as_found.value, verdict.censored) {
        (None, _) => text.push_str("no value"),
        (Some(value), None) => push(&mut text, format_args!("{}{unit}", Number(value))),
        (Some(value), Some(Censored::AtLeast)) => {
            push(&mut text, format_args!("at least {}{unit}", Number(value)));
        }
        (Some(value), Some(Censored::AtMost)) => {
            push(&mut text, format_args!("at most {}{unit}", Number(value)));
        }
    }
    let limit = verdict.limit.map_or(Bounds::default(), |limit| limit.bounds);
    let found = verdict.as_found.conformity;
    if found == Conformity::Inconclusive {
        because(&mut text, " cannot be judged", &verdict.as_found);
    } else {
        push(&mut text, format_args!(" {} {}", keeps(found), Limit(limit, unit)));
        at_reference(&mut text, verdict, step, model, pressure);
    }
    if let Some(comparison) = verdict.comparison {
        let reference = comparison.reference;
        let usual = if comparison.usual { "usual" } else { "unusual" };
        let range = Limit(reference.bounds, unit);
        text.push_str("; ");
        if let Some(value) = verdict.at_reference.value.filter(|_| step.is_corrected()) {
            push(&mut text, format_args!("{}{unit} at reference is ", Number(value)));
        }
        push(&mut text, format_args!("{usual} against {} ({range}", reference.source.words()));
        if let Some(n) = reference.n {
            push(&mut text, format_args!(", n = {n}"));
        }
        text.push(')');
    }
    text.push('.');
    text
}

pub(super) fn of_choice(step: &Step, chosen: &Choice, as_found: &Grading, at_reference: &Grading) -> String {
    let mut text = format!("{}: {}", step.title, chosen.title.as_str());
    if as_found.reason.is_some() {
        because(&mut text, ", which cannot be judged", as_found);
    } else if at_reference.reason.is_some() {
        because(&mut text, ", but whether the part is healthy cannot be told", at_reference);
    }
    text.push('.');
    text
}

fn at_reference(
    text: &mut String,
    verdict: &Verdict,
    step: &Step,
    model: &Model,
    pressure: Option<PressureDuring>,
) {
    let unit = verdict.quantity.map_or("", unit);
    let part = verdict.position.map_or("part", |position| position.key()).replace('_', " ");
    let (found, reference) = (&verdict.as_found, &verdict.at_reference);
    let Some(healthy) = reference.conformity.is_inside() else {
        let words = format!(" as found, but whether the {part} is healthy cannot be told");
        because(text, &words, reference);
        return;
    };
    let Some(value) = reference.value.filter(|_| step.is_corrected()) else { return };
    let bound = match verdict.censored {
        None => "",
        Some(Censored::AtLeast) => "at least ",
        Some(Censored::AtMost) => "at most ",
    };
    let joint = if found.conformity.is_inside() == Some(healthy) { "and" } else { "but" };
    push(
        text,
        format_args!(
            " as found, {joint} {} it with {bound}{}{unit} at reference",
            keeps_short(healthy),
            Number(value)
        ),
    );
    let bar = pressure.map(|pressure| pressure.bar);
    let low = bar.filter(|bar| *bar < model.reference.dynamic_pressure_bar);
    match (found.conformity.is_inside(), healthy, bar) {
        (Some(false), true, Some(_)) => {
            push(text, format_args!(": the {part} is healthy"));
            if let Some(bar) = low {
                let wanted = Number(model.reference.dynamic_pressure_bar);
                push(
                    text,
                    format_args!(
                        " and the building's supply is low ({} bar during the flow, {wanted} bar at reference)",
                        Number(bar)
                    ),
                );
            }
        }
        (Some(true), false, Some(bar)) => {
            push(text, format_args!(": the supply of {} bar hides a weak {part}", Number(bar)));
        }
        _ => {}
    }
    if pressure.is_some_and(|pressure| pressure.elsewhere) {
        text.push_str("; the pressure was read at another machine of the kitchen");
    }
}

fn because(text: &mut String, words: &str, grading: &Grading) {
    text.push_str(words);
    match &grading.reason {
        Some(reason) => push(text, format_args!(": {reason}")),
        None => push(text, format_args!(": {}", Reason::NoLimit)),
    }
}

fn keeps(conformity: Conformity) -> &'static str {
    match conformity {
        Conformity::Pass => "keeps the limit of",
        Conformity::ConditionalPass => "keeps, by less than its uncertainty, the limit of",
        Conformity::ConditionalFail => "misses, by less than its uncertainty, the limit of",
        Conformity::Fail | Conformity::Inconclusive => "misses the limit of",
    }
}

const fn keeps_short(healthy: bool) -> &'static str {
    if healthy { "keeps" } else { "misses" }
}

const fn statistic(statistic: Option<SeriesStatistic>) -> &'static str {
    match statistic {
        None => "",
        Some(SeriesStatistic::FirstFlow) => ", at the start",
        Some(SeriesStatistic::FirstFall) => ", time to the first fall below 90 %",
        Some(SeriesStatistic::LastFifthShare) => ", share left in the last fifth",
    }
}

/// Writing into a `String` does not fail.
fn push(text: &mut String, arguments: std::fmt::Arguments<'_>) {
    let _ = text.write_fmt(arguments);
}

/// The canonical unit as people write it, with its space.
fn unit(quantity: QuantityKind) -> &'static str {
    match quantity.canonical_unit() {
        "bar" => " bar",
        "Cel" => " °C",
        "K" => " K",
        "s" => " s",
        "L" => " L",
        "L/min" => " L/min",
        "m3/h" => " m³/h",
        "V" => " V",
        "A" => " A",
        "W" => " W",
        "Ohm" => " Ω",
        "MOhm" => " MΩ",
        "uF" => " µF",
        "Hz" => " Hz",
        "uS/cm" => " µS/cm",
        "mg/L" => " mg/L",
        "mmol/L" => " mmol/L",
        "%" => " %",
        "m" => " m",
        "kg" => " kg",
        "/min" => " per minute",
        _ => "",
    }
}

/// Four significant digits at most, without trailing zeros.
struct Number(f64);

impl std::fmt::Display for Number {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let value = self.0;
        let size = value.abs();
        if !(1e-6..1e12).contains(&size) {
            return if value == 0.0 { formatter.write_str("0") } else { write!(formatter, "{value:.3e}") };
        }
        // Rounded to a whole number of the last digit, whose zeros are then dropped.
        let (mut scaled, mut decimals) = (size, 0);
        while scaled < 1000.0 {
            scaled *= 10.0;
            decimals += 1;
        }
        let mut digits = scaled.round() as u64;
        while decimals > 0 && digits.is_multiple_of(10) {
            digits /= 10;
            decimals -= 1;
        }
        // Written from the back: a sentence has a dozen numbers, and the formatter's own way is slow.
        let mut text = [0_u8; 24];
        let mut start = text.len();
        let mut written = 0;
        while digits > 0 || written <= decimals {
            if written == decimals && decimals > 0 {
                start -= 1;
                text[start] = b'.';
            }
            start -= 1;
            text[start] = b'0' + (digits % 10) as u8;
            digits /= 10;
            written += 1;
        }
        if value < 0.0 {
            start -= 1;
            text[start] = b'-';
        }
        formatter.write_str(std::str::from_utf8(&text[start..]).unwrap_or_default())
    }
}

struct Limit(Bounds, &'static str);

impl std::fmt::Display for Limit {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self(bounds, unit) = self;
        match (bounds.lower, bounds.upper) {
            (Some(lower), Some(upper)) => write!(formatter, "{} to {}{unit}", Number(lower), Number(upper)),
            (Some(lower), None) => write!(formatter, "at least {}{unit}", Number(lower)),
            (None, Some(upper)) => write!(formatter, "at most {}{unit}", Number(upper)),
            (None, None) => formatter.write_str("none"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_four_significant_digits_at_most() {
        for (value, text) in [
            (12.7099, "12.71"),
            (20.0, "20"),
            (0.944, "0.944"),
            (1234.56, "1235"),
            (0.0, "0"),
            (-0.05, "-0.05"),
            (100.0, "100"),
            (99.99999, "100"),
            (-12.5, "-12.5"),
            (0.001_234_56, "0.001235"),
            (1.5e15, "1.500e15"),
            (1e-9, "1.000e-9"),
        ] {
            assert_eq!(Number(value).to_string(), text);
        }
    }
}
