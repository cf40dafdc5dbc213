//! The quality table as Markdown.

mod rows;

pub use rows::{forecasts, visits};

use std::collections::BTreeMap;
use std::fmt::Write as _;

use domain::text::Key;

use crate::Arguments;
use crate::course::{Course, Station, WORTHS};
use crate::measures::Measured;
use crate::repair::{Minutes, Policy};
use crate::tier::{Courses, Results, Tier};
use rows::{indicator, rows};

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
    /// The lower limit is at most this: nothing shows that it is more.
    LowerAtMost(f64),
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
            Self::LowerAtMost(bar) => measured.low <= bar,
            Self::AtMost(bar) => measured.value <= bar,
            Self::AtMostUpper(bar, upper) => measured.value <= bar && measured.high <= upper,
            Self::AtLeast(bar) => measured.value >= bar,
            Self::Within(low, high) => (low..=high).contains(&measured.value),
        }
    }

    fn text(self) -> String {
        match self {
            Self::UpperAtMost(bar) => format!("upper limit ≤ {bar}"),
            Self::LowerAtMost(bar) => format!("lower limit ≤ {bar}"),
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
        if !results.courses.is_empty() {
            text.push_str(&curve(results));
        }
        if !results.repairs.is_empty() {
            text.push_str(&spent(results));
        }
        text.push_str(&by_fault(results));
    }
    text
}

fn curve(results: &Results) -> String {
    let mut text = String::from(
        "\nWhat stopping costs, by the least expected fall of the loss per minute at which one goes on (the \
         engine's is 1): share of the checklist's minutes / share of cases whose most probable set is the true \
         one / −ln P(true set), nat / share of the cases with several faults of which one is missed:\n\n\
         | goes on above | engine | cheapest first |\n| --- | --- | --- |\n",
    );
    for worth in WORTHS {
        let of = |course: fn(&Courses) -> &Course| {
            let Stopped { minutes, right, surprise, missed } = at(&results.courses, worth, course);
            format!("{minutes:.3} / {right:.3} / {surprise:.3} / {missed:.3}")
        };
        let _ = writeln!(text, "| {worth} | {} | {} |", of(|c| &c.engine), of(|c| &c.cheapest));
    }
    text
}

/// What all cases come to, each stopped at one worth.
pub struct Stopped {
    /// Share of the checklist's minutes.
    pub minutes: f64,
    pub right: f64,
    pub surprise: f64,
    /// Of the cases with several faults.
    pub missed: f64,
}

pub fn at(courses: &[Courses], worth: f64, course: fn(&Courses) -> &Course) -> Stopped {
    let stops: Vec<&Station> = courses.iter().map(|courses| course(courses).stop(worth)).collect();
    let sum = |of: fn(&Station) -> f64| stops.iter().map(|station| of(station)).sum::<f64>();
    let n = stops.len().max(1) as f64;
    let all: f64 = courses.iter().map(|courses| courses.engine.checklist_minutes).sum();
    Stopped {
        minutes: sum(|station| station.minutes) / all,
        right: sum(|station| indicator(station.judged.right)) / n,
        surprise: -sum(|station| station.judged.log_truth) / n,
        missed: sum(|station| indicator(station.judged.several && station.judged.missed))
            / sum(|station| indicator(station.judged.several)).max(1.0),
    }
}

/// Where the minutes of the whole calls go.
fn spent(results: &Results) -> String {
    let mut text = String::from(
        "\nMinutes to a proven repair, by what they are spent on, on average:\n\n\
         | policy | tests and looks | repairs and parts | proofs | second journeys | callbacks | all |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for (at, policy) in Policy::ALL.into_iter().enumerate() {
        let n = results.repairs.len() as f64;
        let of = |of: fn(&Minutes) -> f64| results.repairs.iter().map(|call| of(&call[at])).sum::<f64>() / n;
        let _ = writeln!(
            text,
            "| {} | {:.0} | {:.0} | {:.0} | {:.0} | {:.0} | {:.0} |",
            policy.name(),
            of(|of| of.tests),
            of(|of| of.repairs),
            of(|of| of.proofs),
            of(|of| of.journeys),
            of(|of| of.callbacks),
            of(Minutes::all),
        );
    }
    text
}

fn by_fault(results: &Results) -> String {
    let mut faults: BTreeMap<&Key, (f64, f64, f64)> = BTreeMap::new();
    for (fault, said, stands) in results.outcomes.iter().flat_map(|outcome| &outcome.judged.marginals) {
        let (said_all, stood, said_standing) = faults.entry(fault).or_default();
        *said_all += said;
        if *stands {
            *stood += 1.0;
            *said_standing += said;
        }
    }
    let mut text = String::from(
        "\nFault by fault, after the whole checklist: mean probability / share of the cases in which it stood / \
         mean probability where it stood / where it did not.\n\n\
         | fault | said | stood | said where it stood | where not |\n| --- | --- | --- | --- | --- |\n",
    );
    let n = results.outcomes.len() as f64;
    for (fault, (said, stood, said_standing)) in faults {
        let (where_stood, where_not) =
            (said_standing / stood.max(1.0), (said - said_standing) / (n - stood).max(1.0));
        let (said, stood) = (said / n, stood / n);
        let _ = writeln!(text, "| {fault} | {said:.4} | {stood:.4} | {where_stood:.3} | {where_not:.4} |");
    }
    text
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
- **Minutes to a proven repair** are of the whole call: tests and looks, repairs (15 min, or 30 and the price of the
  part, as the catalogue's losses have it), each proof, a second journey (285) for a part that the van of four places
  lacks, and 285 + 35 and its repair for each expected callback within 90 days. The machine is read again as it then
  stands; all policies decide by the same diagnosis, and the full cycle is hidden from them until they prove with it.
  Calls with something undescribed are left out. *Engine longer than* is paired; below 0 the engine is quicker.
";
