//! The quality table as Markdown.

mod rows;

pub use rows::{forecasts, visits};

use std::fmt::Write as _;

use crate::Arguments;
use crate::course::{Course, Station};
use crate::measures::Measured;
use crate::tier::{Courses, Results, Tier};
use rows::rows;

/// One line of the table.
pub struct Row {
    pub what: String,
    pub measured: Measured,
    pub bar: Option<Bar>,
}

/// What is asked of a measure.
#[derive(Debug, Clone, Copy)]
pub enum Bar {
    /// The upper limit of its interval is at most this.
    UpperAtMost(f64),
    AtMost(f64),
    /// The value and, in the second place, the upper limit.
    AtMostUpper(f64, f64),
    AtLeast(f64),
    Within(f64, f64),
}

impl Bar {
    fn met(self, measured: Measured) -> bool {
        match self {
            Self::UpperAtMost(bar) => measured.high <= bar,
            Self::AtMost(bar) => measured.value <= bar,
            Self::AtMostUpper(bar, upper) => measured.value <= bar && measured.high <= upper,
            Self::AtLeast(bar) => measured.value >= bar,
            Self::Within(low, high) => (low..=high).contains(&measured.value),
        }
    }

    fn text(self) -> String {
        match self {
            Self::UpperAtMost(bar) => format!("upper limit ≤ {bar}"),
            Self::AtMost(bar) => format!("≤ {bar}"),
            Self::AtMostUpper(bar, upper) => format!("≤ {bar}, upper limit ≤ {upper}"),
            Self::AtLeast(bar) => format!("≥ {bar}"),
            Self::Within(low, high) => format!("{low}–{high}"),
        }
    }
}

pub fn text(arguments: &Arguments, results: &[Results]) -> String {
    let mut text = String::from(INTRODUCTION);
    for results in results {
        let name = match results.tier {
            Tier::A => "Tier A: cases from the catalogue's own model",
            Tier::B => "Tier B: calls of the simulated company",
        };
        let (n, stepwise) = (results.outcomes.len(), results.courses.len());
        let _ = writeln!(text, "\n## {name}\n");
        let _ = writeln!(
            text,
            "{n} cases of `{}`, {stepwise} of them test by test; seed {}. Scored as one: {}.\n",
            arguments.model,
            results.seed,
            if results.alike.is_empty() { "none".to_owned() } else { results.alike.join("; ") },
        );
        text.push_str("| measure | value | 95 % interval | bar | met |\n| --- | --- | --- | --- | --- |\n");
        for row in rows(results) {
            let Measured { value, low, high } = row.measured;
            let (bar, met) = row.bar.map_or((String::new(), ""), |bar| {
                (bar.text(), if bar.met(row.measured) { "yes" } else { "**no**" })
            });
            let _ = writeln!(text, "| {} | {value:.4} | {low:.4} to {high:.4} | {bar} | {met} |", row.what);
        }
        text.push_str(&curve(results));
    }
    text
}

/// Where one may stop: least expected fall of the loss per minute.
pub const WORTHS: [f64; 9] = [0.04, 0.1, 0.2, 0.35, 0.6, 1.0, 1.7, 3.0, 6.0];

fn curve(results: &Results) -> String {
    let mut text = String::from(
        "\nAccuracy against minutes, by the least expected fall of the loss per minute at which one goes \
         on (the engine's is 1), as share of the checklist's minutes / share of cases whose most probable \
         set is the true one:\n\n| goes on above | engine | cheapest first |\n| --- | --- | --- |\n",
    );
    for worth in WORTHS {
        let of = |course: fn(&Courses) -> &Course| {
            let (minutes, right) = at(&results.courses, worth, course);
            format!("{minutes:.3} / {right:.3}")
        };
        let _ = writeln!(text, "| {worth} | {} | {} |", of(|c| &c.engine), of(|c| &c.cheapest));
    }
    text
}

/// Share of the minutes and accuracy of all cases, each stopped there.
pub fn at(courses: &[Courses], worth: f64, course: fn(&Courses) -> &Course) -> (f64, f64) {
    let stops: Vec<&Station> = courses.iter().map(|courses| course(courses).stop(worth)).collect();
    let minutes: f64 = stops.iter().map(|station| station.minutes).sum();
    let all: f64 = courses.iter().map(|courses| courses.engine.checklist_minutes).sum();
    let right = stops.iter().filter(|station| station.judged.right).count();
    (minutes / all, right as f64 / stops.len().max(1) as f64)
}

const INTRODUCTION: &str = "\
# How good the diagnosis is

Made by `scripts/evaluate`; measured, not promised. Every interval is the 2.5 and 97.5 percentile of 400
resamples of whole cases.

- A **case** is a call: complaint, answers of the intake, and the whole checklist as one technician would
  have taken it, with what truly stood. **Right** means that the most probable whole *set* (faults, states of
  building and use, something undescribed) is the true one. Look-alikes, which no test tells apart, count as
  one; so does what stands in a subsystem beside something that nobody described.
- **Missed** and **needless** are those of the best decisions by the catalogue's losses.
- **Minutes**: mandatory tests are done whatever they tell; their readings are known from the start and their
  minutes are counted nowhere.
";
