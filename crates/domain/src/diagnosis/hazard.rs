//! Dangers that stand in a case: told, or read. While one does, nothing under power comes next.
//!
//! What tells of a danger and what answers it is data of the procedures, as for the gates ([`crate::danger`]); here it
//! is read off the observations of a case, which may have no runs.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::case::{Case, Observation, Observed};
use super::next_test::TestToDo;
use super::tables::Tables;
use crate::danger::{Danger, told_by};
use crate::equipment::{FunctionalLimit, ObservationKey};
use crate::procedure::{Procedure, Reads, Step};
use crate::vocabulary::Condition;

/// A danger that stands, and the readings and answers that tell of it; none where the call alone does.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hazard {
    pub danger: Danger,
    pub shown_by: Vec<ObservationKey>,
}

/// Answers to the questions of the intake that tell of a danger. Common practice, no source.
const ANSWERS: [(&str, &str, Danger); 1] = [("intake/breaker", "trips", Danger::Tripping)];

/// What the call or an earlier epoch left standing stands. What the complaint or an answer tells stands until every
/// procedure that looks for it reads healthy; what was read, until the same step is read without it.
pub(super) fn standing(tables: &Tables, case: &Case) -> Vec<Hazard> {
    let last: BTreeMap<&ObservationKey, &Observation> =
        case.observations.iter().map(|seen| (&seen.key, seen)).collect();
    let mut standing: BTreeMap<Danger, Vec<ObservationKey>> =
        case.dangers.iter().map(|danger| (*danger, Vec::new())).collect();
    let told = case.complaint.and_then(told_by).map(|danger| (danger, None));
    let answered = last.values().filter_map(|seen| {
        let is_meant = |(key, choice, _): &&(&str, &str, Danger)| {
            seen.key.as_str() == *key
                && matches!(&seen.seen, Observed::Choice(read) if read.as_str() == *choice)
        };
        ANSWERS.iter().find(is_meant).map(|(_, _, danger)| (*danger, Some(seen.key.clone())))
    });
    for (danger, by) in told.into_iter().chain(answered) {
        if !is_over(tables, &last, danger) {
            standing.entry(danger).or_default().extend(by);
        }
    }
    for seen in last.values() {
        if let Some(danger) = signalled(tables, seen) {
            standing.entry(danger).or_default().push(seen.key.clone());
        }
    }
    standing.into_iter().map(|(danger, shown_by)| Hazard { danger, shown_by }).collect()
}

/// Whether a procedure may be advised: while a danger stands only what is done dead, and while gas is smelt nothing
/// that is done at the machine.
pub(super) fn allow(hazards: &[Hazard], procedure: &Procedure) -> bool {
    hazards.iter().all(|hazard| hazard.danger != Danger::Gas && !procedure.powered)
}

/// Whether a test that may be advised looks for a danger that stands: who knows where it comes from can end it.
pub(super) fn is_looked_for(hazards: &[Hazard], tables: &Tables, test: &TestToDo) -> bool {
    let looks_for = |step: &Step| hazards.iter().any(|hazard| step.looks_for.contains(&hazard.danger));
    let is_left = |step: &Step| test.only.is_empty() || test.only.iter().any(|of| of.step == step.key);
    let procedure = tables.procedures.iter().find(|of| of.key == test.procedure);
    procedure.is_some_and(|of| of.steps.iter().any(|step| !step.optional && is_left(step) && looks_for(step)))
}

/// The danger that a reading tells of.
fn signalled(tables: &Tables, seen: &Observation) -> Option<Danger> {
    let step = step(tables, &seen.key)?;
    match (&step.reads, &seen.seen) {
        (Reads::Choose { choices, .. }, Observed::Choice(read)) => {
            choices.iter().find(|choice| choice.key == *read)?.signals
        }
        _ => step.signals.filter(|_| keeps_limit(tables, seen) == Some(false)),
    }
}

/// Whether all that looks for a danger reads healthy. Where nothing looks for it only a person's word ends it.
fn is_over(tables: &Tables, last: &BTreeMap<&ObservationKey, &Observation>, danger: Danger) -> bool {
    let looks = tables.procedures.iter().flat_map(|procedure| {
        let looking = procedure.steps.iter().filter(move |step| step.looks_for.contains(&danger));
        looking.map(move |step| (procedure, step))
    });
    let read = |(procedure, step): (&Procedure, &Step)| {
        let is_of = |key: &ObservationKey| {
            key.procedure() == procedure.key.as_str() && key.step() == step.key.as_str()
        };
        (
            step.optional,
            last.iter().find(|(key, _)| is_of(key)).map(|(_, seen)| reads_healthy(tables, step, seen)),
        )
    };
    let mut looks = looks.map(read).filter(|(optional, healthy)| !optional || healthy.is_some()).peekable();
    looks.peek().is_some() && looks.all(|(_, healthy)| healthy == Some(true))
}

fn reads_healthy(tables: &Tables, step: &Step, seen: &Observation) -> bool {
    match (&step.reads, &seen.seen) {
        (Reads::Choose { choices, .. }, Observed::Choice(read)) => {
            choices.iter().any(|choice| choice.key == *read && choice.condition == Condition::Ok)
        }
        _ => keeps_limit(tables, seen) == Some(true),
    }
}

fn step<'a>(tables: &'a Tables, key: &ObservationKey) -> Option<&'a Step> {
    let procedure = tables.procedures.iter().find(|of| of.key.as_str() == key.procedure())?;
    procedure.steps.iter().find(|step| step.key.as_str() == key.step())
}

/// Whether a value keeps the model's limit; none without a limit, or where the reading leaves it open.
fn keeps_limit(tables: &Tables, seen: &Observation) -> Option<bool> {
    let of = |limit: &&FunctionalLimit| ObservationKey::from(&limit.of) == seen.key;
    let bounds = tables.model.functional_limits.iter().find(of)?.canonical().ok()?;
    let (least, most) = match &seen.seen {
        Observed::Value(number) => (Some(number.value), Some(number.value)),
        Observed::AtLeast(number) => (Some(number.value), None),
        Observed::AtMost(number) => (None, Some(number.value)),
        Observed::Choice(_) => return None,
    };
    let is_below = bounds.lower.is_some_and(|lower| most.is_some_and(|most| most < lower));
    let is_above = bounds.upper.is_some_and(|upper| least.is_some_and(|least| least > upper));
    if is_below || is_above {
        return Some(false);
    }
    let is_over_lower = bounds.lower.is_none_or(|lower| least.is_some_and(|least| least >= lower));
    let is_under_upper = bounds.upper.is_none_or(|upper| most.is_some_and(|most| most <= upper));
    (is_over_lower && is_under_upper).then_some(true)
}
