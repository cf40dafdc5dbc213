//! How well do we do?

use chrono::{DateTime, Datelike, Months, NaiveDate, NaiveTime, TimeDelta, Utc};
use domain::id::{BranchId, PersonId};
use domain::measures::{LEAST_RANKED, Measure, OrderFacts, Period, Question as Of, Record, Tally, tally};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Position;
use domain::word_list;
use domain::work::Urgency;
use store::measures::{Names, Span, names};

use super::facts::facts;
use crate::renewed::Renewed;
use crate::repeats::Window;
use crate::{Application, Caller, Question, Refusal, rights};

word_list! {
    /// By what measures are told apart.
    pub enum Grouping {
        Branch = "branch",
        Model = "model",
        Urgency = "urgency",
        /// In UTC, as the days of the period are.
        Month = "month",
        /// Who was there; only for those who manage people.
        Person = "person",
        /// What was done, and where.
        Repair = "repair",
    }
}

/// The measures of the orders of some days, beside the same days a year before.
#[derive(Debug, Clone, Copy)]
pub struct GetMeasures {
    pub window: Window,
    pub as_of: Timestamp,
    /// Within how many days something comes back.
    pub days: u16,
    pub by: Option<Grouping>,
}

#[derive(Debug, Clone)]
pub struct Measures {
    pub as_of: Timestamp,
    pub window: Window,
    /// The same days a year before; none where they would be partly the same days.
    pub before: Option<Window>,
    pub days: u16,
    pub by: Option<Grouping>,
    pub measured: Vec<Measured>,
}

/// One measure of all orders together, and of each group.
#[derive(Debug, Clone)]
pub struct Measured {
    pub measure: Measure,
    pub whole: Tally,
    /// The highest figure first (months: the earliest), those too small to be ranked last.
    pub groups: Vec<Group>,
}

#[derive(Debug, Clone)]
pub struct Group {
    pub name: GroupName,
    pub tally: Tally,
    /// Whether there are enough of it to stand in a row with others.
    pub is_ranked: bool,
}

/// What the orders of a group have in common. A name that is not known any more is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GroupName {
    Branch(Option<(BranchId, String)>),
    Model(Option<(Key, String)>),
    Urgency(Urgency),
    /// Its first day.
    Month(NaiveDate),
    Person(PersonId, String),
    Repair(Position, Key),
}

/// Answers that were given lately, by the question and until when all is known to it.
pub(crate) type LastMeasures = Renewed<(Window, DateTime<Utc>, u16, Option<Grouping>), Measures>;

/// A page of a few people, and its groupings.
pub(crate) const MOST_KEPT: usize = 24;

/// By what orders are put together before names are known.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum GroupKey {
    Branch(Option<BranchId>),
    Model(Option<Key>),
    Urgency(Urgency),
    Month(NaiveDate),
    Person(PersonId),
    Repair(Position, Key),
}

/// Whole days after the last complete one are not known.
fn last_midnight(at: Timestamp) -> DateTime<Utc> {
    at.instant().date_naive().and_time(NaiveTime::MIN).and_utc()
}

/// So long after a period somebody had to be there of a call in it, at the most: promises, and pauses of them.
const PROMISED_LATER: TimeDelta = TimeDelta::days(31);
const LONGEST_COMPARED: i64 = 366;

impl Question for GetMeasures {
    const NAME: &'static str = "get_measures";
    type Answer = Measures;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Measures, Refusal> {
        if self.by == Some(Grouping::Person) && !Self::may_compare_people(caller) {
            return Err(Refusal::WrongRole { role: caller.principal.role, allowed: rights::MANAGEMENT });
        }
        self.answer_lately(application).await
    }
}

impl GetMeasures {
    /// As it was answered lately, or is now.
    pub(crate) async fn answer_lately(self, application: &Application) -> Result<Measures, Refusal> {
        let until = last_midnight(self.as_of);
        let asked = (self.window, until, self.days, self.by);
        let own = application.clone();
        let answer =
            application.last_measures().get(asked, move || async move { self.computed(&own, until).await });
        Ok(Measures { as_of: self.as_of, ..Measures::clone(&*answer.await?) })
    }

    async fn computed(&self, application: &Application, until: DateTime<Utc>) -> Result<Measures, Refusal> {
        let (from, to) = self.window.ends()?;
        let period = Period { from: from.instant(), to: to.instant() };
        let before = self.before();
        let then = match before {
            Some(window) => {
                let (from, to) = window.ends()?;
                Some(Period { from: from.instant(), to: to.instant() })
            }
            None => None,
        };
        let span = Span {
            from: then.unwrap_or(period).from - PROMISED_LATER,
            // What came back after the period is known as far as the days are over.
            to: (period.to + TimeDelta::days(self.days.into())).min(until),
            as_of: until,
            people: self.by == Some(Grouping::Person),
            repairs: self.by == Some(Grouping::Repair),
        };
        let known = facts(application, span).await?;
        let (by, days) = (self.by, self.days);
        let compute = move || {
            let record = Record::of(&known.orders, &known.removed, until, days);
            let of = |measure: Measure| {
                let question = Of { measure, period, before: then };
                tally(&record, question, |order, at| groups(by, measure, order, at))
                    .map(|told| (measure, told))
            };
            Measure::ALL
                .iter()
                .copied()
                .filter(|measure| is_told(*measure, by))
                .map(of)
                .collect::<Result<Vec<_>, _>>()
        };
        let told = application.versions().tables().compute(compute).await?;
        let told = told.map_err(|error| Refusal::Internal(error.to_string()))?;
        let names = if by.is_some() { names(application.database()).await? } else { Names::default() };
        let mut measured = Vec::with_capacity(told.len());
        for (measure, mut told) in told {
            let whole = told.remove(&None);
            let whole = whole.ok_or_else(|| Refusal::Internal("a measure has no whole".to_owned()))?;
            let groups = told.into_iter().filter_map(|(key, tally)| {
                let is_ranked = tally.counted.n() >= LEAST_RANKED;
                Some(Group { name: named(key?, &names), tally, is_ranked })
            });
            measured.push(Measured { measure, whole, groups: ranked(groups.collect(), by) });
        }
        Ok(Measures { as_of: self.as_of, window: self.window, before, days, by, measured })
    }

    /// Whether measures may be told apart by person: only those who manage people compare them.
    pub fn may_compare_people(caller: &Caller) -> bool {
        rights::MANAGEMENT.contains(&caller.principal.role)
    }

    fn before(&self) -> Option<Window> {
        let year = Months::new(12);
        let Window { first, last } = self.window;
        let window = Window { first: first.checked_sub_months(year)?, last: last.checked_sub_months(year)? };
        (self.window.days() <= LONGEST_COMPARED && window.last < first).then_some(window)
    }
}

/// A repair is held against what came after it; the rest has nothing to do with what was done.
fn is_told(measure: Measure, by: Option<Grouping>) -> bool {
    by != Some(Grouping::Repair) || measure.is_followed()
}

/// Whoever was at the first visit answers for it and for how soon somebody came; for the rest, who was at the last.
fn groups(by: Option<Grouping>, measure: Measure, order: &OrderFacts, at: DateTime<Utc>) -> Vec<GroupKey> {
    match by {
        None => Vec::new(),
        Some(Grouping::Branch) => vec![GroupKey::Branch(order.branch)],
        Some(Grouping::Model) => vec![GroupKey::Model(order.model.clone())],
        Some(Grouping::Urgency) => vec![GroupKey::Urgency(order.urgency)],
        Some(Grouping::Month) => {
            let day = at.date_naive();
            vec![GroupKey::Month(day.with_day(1).unwrap_or(day))]
        }
        Some(Grouping::Person) => {
            let of_first = matches!(
                measure,
                Measure::MendedAtFirstVisit | Measure::Response | Measure::ReachedAsPromised
            );
            let visit = if of_first { order.attended.first() } else { order.attended.last() };
            visit
                .map(|visit| visit.people.iter().copied().map(GroupKey::Person).collect())
                .unwrap_or_default()
        }
        Some(Grouping::Repair) => order
            .repairs
            .iter()
            .map(|(position, action)| GroupKey::Repair(*position, action.clone()))
            .collect(),
    }
}

fn named(key: GroupKey, names: &Names) -> GroupName {
    match key {
        GroupKey::Branch(id) => {
            GroupName::Branch(id.map(|id| (id, names.branches.get(&id).cloned().unwrap_or_default())))
        }
        GroupKey::Model(key) => {
            let titled = |key: Key| {
                let title = names.models.get(&key).cloned().unwrap_or_else(|| key.to_string());
                (key, title)
            };
            GroupName::Model(key.map(titled))
        }
        GroupKey::Urgency(urgency) => GroupName::Urgency(urgency),
        GroupKey::Month(month) => GroupName::Month(month),
        GroupKey::Person(id) => GroupName::Person(id, names.people.get(&id).cloned().unwrap_or_default()),
        GroupKey::Repair(position, action) => GroupName::Repair(position, action),
    }
}

fn ranked(mut groups: Vec<Group>, by: Option<Grouping>) -> Vec<Group> {
    // Months and urgencies have an order of their own, which they came in.
    if !matches!(by, Some(Grouping::Month | Grouping::Urgency)) {
        let value = |group: &Group| group.tally.counted.value().unwrap_or(f64::NEG_INFINITY);
        groups.sort_by(|one, other| {
            other.is_ranked.cmp(&one.is_ranked).then_with(|| {
                if one.is_ranked {
                    value(other).total_cmp(&value(one))
                } else {
                    other.tally.counted.n().cmp(&one.tally.counted.n())
                }
            })
        });
    }
    groups
}
