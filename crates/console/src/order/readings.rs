//! What was read, each on its scale, by position; what failed first.

use application::see_order::OrderFile;
use chrono_tz::Tz;
use domain::equipment::Bounds;
use domain::evidence::Censored;
use domain::grading::{Conformity, Verdict};
use domain::id::TestRunId;
use domain::vocabulary::Condition;

use crate::parts::scale::{Reading, Scale, Tone};
use crate::when;

pub(crate) struct ReadingsView {
    pub rows: Vec<Row>,
    pub not_tested: Vec<String>,
    /// Why there are none.
    pub none: Option<String>,
}

/// One reading on one line.
pub(crate) struct Row {
    pub position: String,
    /// Whether the row above is of another position.
    pub is_first: bool,
    pub what: String,
    pub value: String,
    pub word: String,
    pub tone: &'static str,
    pub scale: Option<Scale>,
    pub against: String,
    /// The verdict's own sentence.
    pub sentence: String,
}

/// The epochs of the machine in this order: label, address, whether it is shown. Empty if there is but one.
pub(crate) fn epochs(file: &OrderFile) -> Vec<(String, String, bool)> {
    let Ok(verdicts) = &file.verdicts else { return Vec::new() };
    if verdicts.current_epoch == 0 {
        return Vec::new();
    }
    let label = |epoch: u32| match epoch {
        0 => wording::say("epoch-before"),
        epoch if epoch == verdicts.current_epoch => wording::say("epoch-now"),
        epoch => wording::say_with("epoch-between", &[("number", epoch.to_string().into())]),
    };
    let epochs = (0..=verdicts.current_epoch).rev();
    epochs
        .map(|epoch| {
            let to = format!("/orders/{}?epoch={epoch}#readings", file.order.number);
            (label(epoch), to, epoch == verdicts.epoch)
        })
        .collect()
}

impl ReadingsView {
    pub fn of(file: &OrderFile, zone: Tz) -> Self {
        Self::of_those(file, zone, |_| true)
    }

    /// What one run says.
    pub fn of_run(file: &OrderFile, zone: Tz, run: TestRunId) -> Self {
        Self::of_those(file, zone, |of| of == run)
    }

    fn of_those(file: &OrderFile, zone: Tz, is_wanted: impl Fn(TestRunId) -> bool) -> Self {
        let verdicts = match &file.verdicts {
            Ok(verdicts) => verdicts,
            Err(why) => return Self { rows: Vec::new(), not_tested: Vec::new(), none: Some(why.clone()) },
        };
        let assessment = &verdicts.assessment;
        let mut graded: Vec<&Verdict> =
            assessment.verdicts.iter().filter(|verdict| is_wanted(verdict.test_run)).collect();
        // The worst position first; within a position in the order in which it was read.
        let worst = |verdict: &Verdict| {
            let own = assessment.verdicts.iter().filter(|other| other.position == verdict.position);
            own.map(|other| weight(other.condition)).max()
        };
        graded.sort_by_key(|verdict| {
            (std::cmp::Reverse(worst(verdict)), verdict.position.map(domain::vocabulary::Position::key))
        });
        let mut rows: Vec<Row> = Vec::with_capacity(graded.len());
        let mut above = None;
        for verdict in graded {
            let last = verdicts.last_healthy.get(&verdict.of);
            let last_at = last.map(|last| when::clock(zone, last.taken_at, file.now));
            let mut row = Row::of(verdict, last.and_then(|last| last.value), last_at);
            let position = verdict.position.map(domain::vocabulary::Position::key);
            row.is_first = above != Some(position);
            above = Some(position);
            rows.push(row);
        }
        let not_tested = assessment
            .not_tested
            .iter()
            .filter(|skipped| is_wanted(skipped.test_run))
            .map(|skipped| {
                format!("{}: {}", wording::term("step", skipped.step.as_str()), skipped.reason.as_str())
            })
            .collect();
        let none = rows.is_empty().then(|| wording::say("readings-none"));
        Self { rows, not_tested, none }
    }
}

fn weight(condition: Condition) -> u8 {
    match condition {
        Condition::Failed => 4,
        Condition::Degraded => 3,
        Condition::Inconclusive => 2,
        Condition::Ok => 1,
        Condition::NotTested => 0,
    }
}

impl Row {
    fn of(verdict: &Verdict, last_value: Option<f64>, last_at: Option<String>) -> Self {
        let tone = match verdict.condition {
            Condition::Failed => Tone::Bad,
            Condition::Degraded => Tone::Doubtful,
            Condition::Ok => Tone::Good,
            Condition::Inconclusive | Condition::NotTested => Tone::Plain,
        };
        let unit = verdict.quantity.map_or(Unit::NONE, |quantity| Unit::of(quantity.canonical_unit()));
        let grading = &verdict.at_reference;
        let value = grading.value.or(verdict.as_found.value);
        let read = match (&verdict.choice, value) {
            (Some(choice), _) => wording::term("choice", choice.as_str()).into_owned(),
            (None, Some(value)) => {
                let text = unit.write(value);
                match verdict.censored {
                    None => text,
                    Some(Censored::AtLeast) => wording::say_with("at-least", &[("value", text.into())]),
                    Some(Censored::AtMost) => wording::say_with("at-most", &[("value", text.into())]),
                }
            }
            (None, None) => wording::say("no-value"),
        };
        let scale = value.and_then(|value| {
            let reading = Reading {
                value,
                spread: 2.0
                    * grading.standard_uncertainty.or(verdict.as_found.standard_uncertainty).unwrap_or(0.0),
                censored: verdict.censored,
                healthy: verdict
                    .comparison
                    .map_or(Bounds::default(), |comparison| comparison.reference.bounds),
                limit: verdict.limit.map_or(Bounds::default(), |limit| limit.bounds),
                last_healthy: last_value,
                spacing: verdict
                    .quantity
                    .map_or(domain::quantity::Scale::Linear, domain::quantity::QuantityKind::scale),
            };
            Scale::of_reading(&reading, tone, wording::verdict::sentence(verdict))
        });
        Self {
            position: verdict.position.map_or_else(
                || wording::say("whole-machine"),
                |of| wording::term("position", of.key()).into_owned(),
            ),
            is_first: true,
            what: wording::term("step", verdict.of.step.as_str()).into_owned(),
            value: read,
            word: word(verdict),
            tone: tone.class(),
            scale,
            against: against(verdict, unit, last_value, last_at),
            sentence: wording::verdict::sentence(verdict),
        }
    }
}

/// The verdict in a word: what was found says whether it works, what holds at reference whether the part is healthy.
fn word(verdict: &Verdict) -> String {
    let key = match (verdict.condition, verdict.at_reference.conformity) {
        (Condition::Ok, _) => "verdict-keeps",
        (Condition::Degraded, _) => "verdict-degraded",
        (Condition::Failed, Conformity::ConditionalFail) => "verdict-fails-narrowly",
        (Condition::Failed, _) => "verdict-fails",
        (Condition::Inconclusive | Condition::NotTested, _) => "verdict-open",
    };
    wording::say(key)
}

fn against(verdict: &Verdict, unit: Unit, last_value: Option<f64>, last_at: Option<String>) -> String {
    let mut parts = Vec::new();
    if let Some(bounds) = verdict.limit.map(|limit| limit.bounds).filter(|bounds| !bounds.is_open()) {
        parts.push(interval("against-limit", bounds, unit));
    }
    if let Some(reference) = verdict.comparison.map(|comparison| comparison.reference) {
        let text = interval("against-healthy", reference.bounds, unit);
        parts.push(match reference.n {
            Some(n) => {
                wording::say_with("against-n", &[("healthy", text.into()), ("n", i64::from(n).into())])
            }
            None => text,
        });
    }
    if let (Some(value), Some(at)) = (last_value, last_at) {
        let value = unit.write(value);
        parts.push(wording::say_with("against-last", &[("value", value.into()), ("at", at.into())]));
    }
    if verdict.condition == Condition::Inconclusive
        && let Some(reason) = &verdict.at_reference.reason
    {
        parts.push(wording::verdict::reason(reason));
    }
    parts.join(" · ")
}

fn interval(key: &str, bounds: Bounds, unit: Unit) -> String {
    let text = match (bounds.lower, bounds.upper) {
        (Some(lower), Some(upper)) => format!("{}–{}", figure_of(unit, lower), unit.write(upper)),
        (Some(lower), None) => wording::say_with("at-least", &[("value", unit.write(lower).into())]),
        (None, Some(upper)) => wording::say_with("at-most", &[("value", unit.write(upper).into())]),
        (None, None) => String::new(),
    };
    wording::say_with(key, &[("interval", text.into())])
}

/// A unit as people are told values in it, to three digits that mean something.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Unit(wording::Unit);

impl Unit {
    const NONE: Self = Self(wording::Unit::NONE);

    pub fn of(ucum: &str) -> Self {
        Self(wording::Unit::of(ucum))
    }

    /// Empty for a code that is not known.
    pub fn name(self) -> &'static str {
        self.0.name()
    }

    /// What was typed in it, in the quantity's own unit.
    pub fn read(self, typed: f64) -> f64 {
        self.0.canonical(typed)
    }

    pub fn write(self, value: f64) -> String {
        match self.name() {
            "" => figure_of(self, value),
            name => format!("{} {name}", figure_of(self, value)),
        }
    }

    /// Three significant digits, without trailing zeros.
    fn figure(self, value: f64) -> String {
        let value = self.0.told(value);
        if value == 0.0 || !value.is_finite() {
            return "0".to_owned();
        }
        let decimals = (2 - value.abs().log10().floor() as i32).clamp(0, 6) as usize;
        let text = format!("{value:.decimals$}");
        if decimals == 0 { text } else { text.trim_end_matches('0').trim_end_matches('.').to_owned() }
    }
}

/// Three significant digits, without trailing zeros.
pub(crate) fn figure(value: f64) -> String {
    figure_of(Unit::NONE, value)
}

/// As it is written in the language that is spoken.
fn figure_of(unit: Unit, value: f64) -> String {
    wording::decimal(unit.figure(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_three_digits_that_mean_something() {
        for (value, text) in [
            (148.2, "148"),
            (6.104, "6.1"),
            (2.974, "2.97"),
            (0.0, "0"),
            (-0.05, "-0.05"),
            (1234.6, "1235"),
            (20.0, "20"),
        ] {
            assert_eq!(Unit::NONE.figure(value), text);
        }
        assert_eq!(Unit::of("m").write(0.003), "3 mm");
        assert_eq!(Unit::of("bar").write(2.9), "2.9 bar");
        wording::speaking_now(wording::Language::German, || {
            assert_eq!(Unit::of("bar").write(2.9), "2,9 bar");
        });
    }
}
