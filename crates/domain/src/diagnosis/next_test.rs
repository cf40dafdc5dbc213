//! What is worth the next minutes: a test, a look, something done and read again, or mending what is decided and
//! proving it.
//!
//! The loss of a diagnosis is what the best decision on each fault still costs on average: to leave a
//! fault standing costs what the proof does not show of it, to mend what is sound costs time and perhaps a part; and
//! doubt has a small price of its own ([`crate::equipment::Losses`]). A step is worth its expected fall of this loss;
//! the next one is that with the largest fall per minute, the tests that must come before it counted in, each once.
//! When no step's expected fall exceeds its minutes, what is decided is mended and proven.
//!
//! While a danger stands nothing under power is ranked: isolation comes next, then the looks that tell where it comes
//! from, whatever they are worth besides; with a smell of gas nothing else.
//!
//! Source: expected value of sample information with an additive loss (Raiffa and Schlaifer, Applied
//! Statistical Decision Theory, 1961 [from memory]); one step ahead, no further.

mod again;
mod outcomes;
mod step;
mod units;

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::case::Case;
use super::hazard::{self, Hazard};
use super::posterior::Posterior;
use super::tables::{HypothesisKind, Tables};
use super::weighing::Weighing;
use crate::procedure::{Caution, Precondition, Procedure, Step};
use crate::text::{Key, Name};
use crate::vocabulary::Action;
use crate::work::proves;
pub use again::{DoAndReadAgain, Outcome};
use outcomes::Outlook;
pub(super) use step::cautions_at;
use step::{ToTake, due, is_due, left, order, proofs};

/// What to do next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextTest {
    pub advice: Advice,
    /// Dangers that stand: nothing under power comes next.
    #[serde(default)]
    pub hazards: Vec<Hazard>,
    /// All that is left to take, best first; while a danger stands only what is done dead.
    pub tests: Vec<TestAdvice>,
    /// Tests that are done whatever they may tell, and are not done yet.
    pub mandatory: Vec<TestToDo>,
    /// Those of them without which the order is not proven.
    #[serde(default)]
    pub for_proof: Vec<Key>,
    /// What is decided: it costs less to mend it than to leave it. Surest first.
    #[serde(default)]
    pub mend: Vec<Mend>,
    /// Average loss of the best decisions now, min.
    pub loss_minutes: f64,
    /// The price of the doubt in which they are made, min.
    #[serde(default)]
    pub doubt_minutes: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Advice {
    Test(TestToDo),
    DoAndReadAgain(Box<DoAndReadAgain>),
    /// No step is expected to save the minutes that it takes.
    #[serde(alias = "nothing_more_is_worth_testing")]
    MendAndProve,
    /// A danger stands, and nothing that can be done dead is worth its minutes.
    Isolate,
}

/// A test with what must be known before it is begun.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestToDo {
    pub procedure: Key,
    pub version: u32,
    pub title: Name,
    pub minutes: f64,
    /// The steps to be read where the others were read before; none means all of them.
    #[serde(default)]
    pub only: Vec<StepToRead>,
    /// Skills or licences that the person must hold.
    pub skills: BTreeSet<Key>,
    /// It opens the protection of an interlock: second person, time limit, removal recorded.
    pub defeats_interlock: bool,
    pub preconditions: Vec<Precondition>,
    pub cautions: Vec<Caution>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StepToRead {
    pub step: Key,
    pub title: Name,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestAdvice {
    pub procedure: Key,
    /// What must be known before it is begun.
    pub to_do: TestToDo,
    /// With the tests that must come before it and are not done, but for those that are due in any case, min.
    pub minutes: f64,
    /// Expected fall of the loss by second journeys and needless repairs, min.
    pub saves_minutes: f64,
    /// Expected fall of the price of doubt, min.
    #[serde(default)]
    pub less_doubt_minutes: f64,
    /// The tests in the order in which they are done, this one last.
    pub order: Vec<Key>,
}

/// One fault, or several that no test tells apart, whose mending is decided.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mend {
    /// Most probable first.
    pub faults: Vec<Key>,
    /// P(at least one of them stands).
    pub probability: f64,
    /// What mends the first.
    pub action: Action,
    pub parts: Vec<Key>,
    /// Of the work at its position.
    #[serde(default)]
    pub cautions: Vec<Caution>,
}

impl TestAdvice {
    /// Minutes saved for each minute that it takes.
    pub fn worth(&self) -> f64 {
        (self.saves_minutes + self.less_doubt_minutes) / self.minutes.max(0.1)
    }

    pub fn is_worth_it(&self) -> bool {
        self.worth() > 1.0
    }
}

impl From<&Procedure> for TestToDo {
    fn from(procedure: &Procedure) -> Self {
        Self {
            procedure: procedure.key.clone(),
            version: procedure.version,
            title: procedure.title.clone(),
            minutes: procedure.minutes,
            only: Vec::new(),
            skills: procedure.skills.clone(),
            defeats_interlock: procedure.defeating_steps().next().is_some(),
            preconditions: procedure.preconditions.clone(),
            cautions: procedure.cautions.clone(),
        }
    }
}

impl From<&ToTake<'_>> for TestToDo {
    fn from(of: &ToTake<'_>) -> Self {
        let to_read = |step: &&Step| StepToRead { step: step.key.clone(), title: step.title.clone() };
        let steps = of.only.iter().flatten();
        let defeats = match &of.only {
            None => of.procedure.defeating_steps().next().is_some(),
            Some(only) => only.iter().any(|step| step.interlock_defeat.is_some()),
        };
        Self {
            minutes: of.minutes,
            only: steps.map(to_read).collect(),
            defeats_interlock: defeats,
            ..of.procedure.into()
        }
    }
}

/// As good as certain: such a fault is mended or quoted whatever it would cost if it were left.
const CERTAIN: f64 = 0.95;

/// The measurements that tests not done yet could give (indices into the catalogue's).
pub(super) fn to_foresee(tables: &Tables, case: &Case) -> Vec<usize> {
    let judged = judged(tables, case, &hazard::standing(tables, case));
    let measurements = tables.catalogue.measurements.iter().enumerate();
    measurements
        .filter(|(_, measurement)| {
            measurement.reads != crate::equipment::Reads::PressureAfterStrainer
                && judged.iter().any(|test| test.step(&measurement.key).is_some())
        })
        .map(|(index, _)| index)
        .collect()
}

/// The steps that are left to choose from, each behind those that it needs. While a danger stands, those that
/// are done dead.
fn choices<'a>(tables: &'a Tables, case: &Case, hazards: &[Hazard]) -> Vec<Vec<ToTake<'a>>> {
    let orders = left(tables, case).into_iter().map(|test| order(tables, case, &test));
    let is_safe = |order: &Vec<ToTake>| order.iter().all(|of| hazard::allow(hazards, of.procedure));
    orders.filter(is_safe).collect()
}

/// Each of them once.
fn judged<'a>(tables: &'a Tables, case: &Case, hazards: &[Hazard]) -> Vec<ToTake<'a>> {
    let mut judged: Vec<ToTake> = choices(tables, case, hazards).into_iter().flatten().collect();
    judged.sort_by(|a, b| a.procedure.key.cmp(&b.procedure.key));
    judged.dedup_by(|a, b| a.procedure.key == b.procedure.key);
    judged
}

/// `weighing` foresees what [`to_foresee`] names.
pub(super) fn advise(weighing: &Weighing, posterior: &Posterior, case: &Case) -> NextTest {
    let tables = weighing.tables;
    let hazards = hazard::standing(tables, case);
    let outlook = Outlook::new(weighing, posterior, case);
    let loss = outlook.loss();
    let tests = ranked(tables, case, &hazards, &outlook);
    let mend = decided(tables, case, &outlook);
    let again = again::advise(tables, case, &outlook, &mend, &hazards);
    let due = due(tables, case);
    let looked_for = tests.iter().find(|test| hazard::is_looked_for(&hazards, tables, &test.to_do));
    let best = looked_for.or_else(|| tests.iter().find(|test| test.is_worth_it()));
    let advice = match (again, best) {
        (Some(again), _) => Advice::DoAndReadAgain(Box::new(again)),
        (None, Some(best)) => Advice::Test(first_of(tables, best)),
        (None, None) if hazards.is_empty() => Advice::MendAndProve,
        (None, None) => Advice::Isolate,
    };
    NextTest {
        advice,
        hazards,
        tests,
        for_proof: due
            .iter()
            .map(|of| &of.key)
            .filter(|of| proves(of, &case.failed_before))
            .cloned()
            .collect(),
        mandatory: due.into_iter().map(Into::into).collect(),
        mend,
        loss_minutes: loss.decision,
        doubt_minutes: loss.doubt,
    }
}

fn ranked(tables: &Tables, case: &Case, hazards: &[Hazard], outlook: &Outlook) -> Vec<TestAdvice> {
    let judged = judged(tables, case, hazards);
    let falls: Vec<_> = judged.iter().map(|test| outlook.falls(test)).collect();
    let falls_of = |key: &Key| judged.iter().position(|of| of.procedure.key == *key).map(|at| &falls[at][..]);
    let advice = |order: Vec<ToTake>| {
        let (test, before) = order.split_last()?;
        // What is due in any case costs nothing if it comes first.
        let before = before.iter().filter(|of| !is_due(tables, case, &of.procedure.key));
        let saves = outlook.saves(order.iter().filter_map(|of| falls_of(&of.procedure.key)));
        Some(TestAdvice {
            procedure: test.procedure.key.clone(),
            to_do: test.into(),
            minutes: test.minutes + before.map(|of| of.minutes).sum::<f64>(),
            saves_minutes: saves.decision,
            less_doubt_minutes: saves.doubt,
            order: order.iter().map(|of| of.procedure.key.clone()).collect(),
        })
    };
    let mut tests: Vec<TestAdvice> = choices(tables, case, hazards).into_iter().filter_map(advice).collect();
    tests.sort_by(|a, b| b.worth().total_cmp(&a.worth()).then_with(|| a.procedure.cmp(&b.procedure)));
    tests
}

/// The test itself, or the first of those that it needs.
fn first_of(tables: &Tables, advice: &TestAdvice) -> TestToDo {
    let first = advice.order.first().filter(|first| **first != advice.procedure);
    let needed = first.and_then(|first| tables.procedures.iter().find(|of| of.key == *first));
    needed.map_or_else(|| advice.to_do.clone(), Into::into)
}

/// What costs less to mend than to leave. After a proof that failed at least what is most worth it.
fn decided(tables: &Tables, case: &Case, outlook: &Outlook) -> Vec<Mend> {
    let mut units: Vec<(&units::Unit, f64)> =
        outlook.standing().filter(|(unit, _)| unit.missed > 0.0).collect();
    units.sort_by(|a, b| b.1.total_cmp(&a.1));
    let is_decided =
        |(unit, stands): &&(&units::Unit, f64)| unit.is_worth_mending(*stands) || *stands >= CERTAIN;
    let mut decided: Vec<_> = units.iter().filter(is_decided).collect();
    if decided.is_empty() && has_failed_proof(tables, case) {
        let worth = |(unit, stands): &(&units::Unit, f64)| {
            stands * unit.missed / ((1.0 - stands) * unit.needless).max(1e-9)
        };
        decided.extend(units.iter().max_by(|a, b| worth(a).total_cmp(&worth(b))));
    }
    let mend = |(unit, probability): &(&units::Unit, f64)| {
        let faults = outlook.most_probable_first(unit).into_iter().filter_map(|index| {
            match tables.hypotheses[index].kind {
                HypothesisKind::Fault(fault) => Some(&tables.catalogue.faults[fault]),
                HypothesisKind::Other => None,
            }
        });
        let faults: Vec<_> = faults.collect();
        let first = faults.first()?;
        let remedy = &first.remedy;
        Some(Mend {
            faults: faults.iter().map(|fault| fault.key.clone()).collect(),
            probability: *probability,
            action: remedy.action,
            parts: remedy.parts.iter().map(|need| need.part.clone()).collect(),
            cautions: cautions_at(tables, first.position),
        })
    };
    decided.into_iter().filter_map(mend).collect()
}

fn has_failed_proof(tables: &Tables, case: &Case) -> bool {
    let proofs = proofs(tables, case);
    tables.catalogue.inspections.iter().any(|inspection| {
        let read = case.observations.iter().rev().find(|seen| seen.key == inspection.key);
        proofs.iter().any(|proof| proof.key.as_str() == inspection.key.procedure())
            && matches!(read.map(|read| &read.seen),
                Some(super::case::Observed::Choice(choice)) if inspection.choice(choice) > Some(0))
    })
}
