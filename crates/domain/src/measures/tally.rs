//! Measures summed over a period, in groups, beside the year before.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::exact::{Limits, clopper_pearson, fisher, rate_limits, two_rates};
use super::order::OrderFacts;
use super::rules::{LeftOut, Reading, Record};
use super::spread::{Duration, Spread, differ, spread};
use super::{CONFIDENCE, Measure, MeasureError};

/// From a moment to before another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Period {
    pub from: DateTime<Utc>,
    pub to: DateTime<Utc>,
}

impl Period {
    fn holds(&self, at: DateTime<Utc>) -> bool {
        self.from <= at && at < self.to
    }
}

/// What is summed: `before` is compared with, where there is one.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    pub measure: Measure,
    pub period: Period,
    pub before: Option<Period>,
}

/// A measure of all orders of the period, or of one group of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Tally {
    pub counted: Counted,
    /// Its days are not over: in no figure.
    pub immature: u32,
    pub left_out: BTreeMap<LeftOut, u32>,
    /// In the year before, with how many were too early to tell even so.
    pub before: Option<Counted>,
    pub change: Option<Change>,
}

/// What was counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Counted {
    Share(Figure),
    Lasting(Spread),
}

/// So many of so many. Without a whole there is no value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    pub numerator: u32,
    pub denominator: u32,
    pub value: Option<f64>,
    pub limits: Option<Limits>,
}

/// Against the year before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// How unlikely a difference so large or larger is where nothing changed.
    pub p: f64,
}

impl Counted {
    /// How many stand behind the figure.
    pub fn n(&self) -> u32 {
        match self {
            Self::Share(figure) => figure.denominator,
            Self::Lasting(spread) => spread.n,
        }
    }

    /// By what groups are ranked: none where there is no figure.
    pub fn value(&self) -> Option<f64> {
        match self {
            Self::Share(figure) => figure.value,
            Self::Lasting(spread) => spread.median.map(|median| median.hours),
        }
    }
}

/// What is summed up of one group.
#[derive(Debug, Default)]
struct Sum {
    numerator: u32,
    denominator: u32,
    durations: Vec<Duration>,
    immature: u32,
    left_out: BTreeMap<LeftOut, u32>,
}

impl Sum {
    fn add(&mut self, reading: Reading) {
        match reading {
            Reading::Counts { part, whole } => {
                self.numerator = self.numerator.saturating_add(part);
                self.denominator = self.denominator.saturating_add(whole);
            }
            Reading::Lasts(duration) => self.durations.push(duration),
            Reading::Immature => self.immature += 1,
            Reading::LeftOut(why) => *self.left_out.entry(why).or_default() += 1,
        }
    }

    fn counted(&self, measure: Measure) -> Result<Counted, MeasureError> {
        if measure.is_duration() {
            return Ok(Counted::Lasting(spread(&self.durations, CONFIDENCE)?));
        }
        let (part, whole) = (self.numerator, self.denominator);
        let share = (whole > 0).then(|| f64::from(part) / f64::from(whole));
        // The first visit is no return: what varies is how many come after it.
        let once_more = f64::from(u8::from(measure == Measure::VisitsPerOrder));
        let limits = if measure == Measure::VisitsPerOrder {
            rate_limits(part, whole, CONFIDENCE)?
        } else {
            clopper_pearson(part, whole, CONFIDENCE)?
        };
        Ok(Counted::Share(Figure {
            numerator: if measure == Measure::VisitsPerOrder { part.saturating_add(whole) } else { part },
            denominator: whole,
            value: share.map(|share| share + once_more),
            limits: limits
                .map(|limits| Limits { lower: limits.lower + once_more, upper: limits.upper + once_more }),
        }))
    }

    fn change(&self, before: &Self, measure: Measure) -> Result<Option<Change>, MeasureError> {
        let p = if measure.is_duration() {
            differ(&self.durations, &before.durations)?
        } else if measure == Measure::VisitsPerOrder {
            let rate = |sum: &Self| (sum.numerator, f64::from(sum.denominator));
            two_rates(rate(self), rate(before))?
        } else {
            fisher((self.numerator, self.denominator), (before.numerator, before.denominator))?
        };
        Ok(p.map(|p| Change { p }))
    }
}

/// A measure of the period: of all orders together (under none), and in groups where `groups` names those of an order and
/// a moment. An order of several groups counts in each and once for all together.
pub fn tally<Group: Ord + Clone>(
    record: &Record<'_>,
    question: Question,
    groups: impl Fn(&OrderFacts, DateTime<Utc>) -> Vec<Group>,
) -> Result<BTreeMap<Option<Group>, Tally>, MeasureError> {
    let (mut now, mut then) = (BTreeMap::new(), BTreeMap::new());
    now.insert(None, Sum::default());
    for order in record.orders() {
        for (at, reading) in record.read(question.measure, order) {
            let sums = if question.period.holds(at) {
                &mut now
            } else if question.before.is_some_and(|before| before.holds(at)) {
                &mut then
            } else {
                continue;
            };
            for group in groups(order, at).into_iter().map(Some).chain([None]) {
                sums.entry(group).or_default().add(reading);
            }
        }
    }
    let nothing = Sum::default();
    let of = |(group, sum): (Option<Group>, Sum)| {
        let before = question.before.map(|_| then.get(&group).unwrap_or(&nothing));
        let tally = Tally {
            counted: sum.counted(question.measure)?,
            before: before.map(|before| before.counted(question.measure)).transpose()?,
            change: before.map(|before| sum.change(before, question.measure)).transpose()?.flatten(),
            immature: sum.immature,
            left_out: sum.left_out,
        };
        Ok((group, tally))
    };
    now.into_iter().map(of).collect()
}
