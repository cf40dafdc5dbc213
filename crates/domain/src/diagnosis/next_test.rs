//! Which test is worth the next minutes.
//!
//! The loss of a diagnosis is what the best decision on each fault still costs on average: to leave a
//! fault standing costs a second journey, to mend what is sound costs time and perhaps a part. A test is
//! worth its expected fall of this loss; the next one is that with the largest fall per minute, the
//! tests that must come before it counted in, each once. When no test's expected fall exceeds its
//! minutes, nothing more is worth testing.
//!
//! Source: expected value of sample information with an additive loss (Raiffa and Schlaifer, Applied
//! Statistical Decision Theory, 1961 [from memory]); one step ahead, no further.

mod outcomes;
mod units;

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::case::Case;
use super::posterior::Posterior;
use super::tables::Tables;
use super::weighing::Weighing;
use crate::equipment::Mandatory;
use crate::procedure::{Caution, Precondition, Procedure};
use crate::text::{Key, Name};
use outcomes::Outlook;

/// What to do next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextTest {
    pub advice: Advice,
    /// All tests that are left, best first.
    pub tests: Vec<TestAdvice>,
    /// Tests that are done whatever they may tell, and are not done yet.
    pub mandatory: Vec<TestToDo>,
    /// Average loss of the best decisions now, min.
    pub loss_minutes: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Advice {
    Test(TestToDo),
    /// No test is expected to save the minutes that it takes.
    NothingMoreIsWorthTesting,
}

/// A test with what must be known before it is begun.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestToDo {
    pub procedure: Key,
    pub version: u32,
    pub title: Name,
    pub minutes: f64,
    /// Skills or licences that the person must hold.
    pub skills: BTreeSet<Key>,
    /// It opens the protection of an interlock: second person, time limit, removal recorded.
    pub defeats_interlock: bool,
    pub preconditions: Vec<Precondition>,
    pub cautions: Vec<Caution>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestAdvice {
    pub procedure: Key,
    /// What must be known before it is begun.
    pub to_do: TestToDo,
    /// With the tests that must come before it and are not done, min.
    pub minutes: f64,
    /// Expected fall of the loss, min.
    pub saves_minutes: f64,
    /// The tests in the order in which they are done, this one last.
    pub order: Vec<Key>,
}

impl TestAdvice {
    pub fn is_worth_it(&self) -> bool {
        self.saves_minutes > self.minutes
    }

    fn per_minute(&self) -> f64 {
        self.saves_minutes / self.minutes.max(0.1)
    }
}

impl From<&Procedure> for TestToDo {
    fn from(procedure: &Procedure) -> Self {
        Self {
            procedure: procedure.key.clone(),
            version: procedure.version,
            title: procedure.title.clone(),
            minutes: procedure.minutes,
            skills: procedure.skills.clone(),
            defeats_interlock: procedure.defeating_steps().next().is_some(),
            preconditions: procedure.preconditions.clone(),
            cautions: procedure.cautions.clone(),
        }
    }
}

/// The measurements that tests not done yet could give (indices into the catalogue's).
pub(super) fn to_foresee(tables: &Tables, case: &Case) -> Vec<usize> {
    let judged = judged(tables, case);
    let recorded_or_extra = |key: &crate::equipment::ObservationKey, procedure: &Procedure| {
        let step = procedure.steps.iter().find(|step| key.step() == step.key.as_str());
        step.is_none_or(|step| matches!(step.reads, crate::procedure::Reads::Record { .. }))
    };
    let measurements = tables.catalogue.measurements.iter().enumerate();
    measurements
        .filter(|(_, measurement)| {
            measurement.reads != crate::equipment::Reads::PressureAfterStrainer
                && judged.iter().any(|procedure| {
                    measurement.key.procedure() == procedure.key.as_str()
                        && !recorded_or_extra(&measurement.key, procedure)
                })
        })
        .map(|(index, _)| index)
        .collect()
}

fn left<'a>(tables: &'a Tables, case: &Case) -> Vec<&'a Procedure> {
    tables.procedures.iter().filter(|procedure| !is_done(case, &procedure.key)).collect()
}

/// The tests that are left to choose from, and those that they need.
fn judged<'a>(tables: &'a Tables, case: &Case) -> Vec<&'a Procedure> {
    let mut judged: Vec<&Procedure> = Vec::new();
    for procedure in left(tables, case) {
        if !is_mandatory(tables, case, &procedure.key) {
            judged.extend(order(tables, case, procedure));
        }
    }
    judged.sort_by(|a, b| a.key.cmp(&b.key));
    judged.dedup_by(|a, b| a.key == b.key);
    judged
}

/// `weighing` foresees what [`to_foresee`] names.
pub(super) fn advise(weighing: &Weighing, posterior: &Posterior, case: &Case) -> NextTest {
    let tables = weighing.tables;
    let left = left(tables, case);
    let mandatory: Vec<&Procedure> =
        left.iter().copied().filter(|procedure| is_mandatory(tables, case, &procedure.key)).collect();
    let outlook = Outlook::new(weighing, posterior);
    let loss = outlook.loss();
    let judged = judged(tables, case);
    let falls: Vec<Vec<Vec<f64>>> = judged.iter().map(|procedure| outlook.falls(procedure)).collect();
    let falls_of = |key: &Key| judged.iter().position(|p| p.key == *key).map(|index| &falls[index][..]);
    let mut tests: Vec<TestAdvice> = left
        .iter()
        .filter(|procedure| !mandatory.iter().any(|of| of.key == procedure.key))
        .map(|procedure| {
            let order = order(tables, case, procedure);
            let free = |key: &Key| mandatory.iter().any(|of| of.key == *key);
            let minutes = order.iter().filter(|of| !free(&of.key)).map(|of| of.minutes).sum();
            TestAdvice {
                procedure: procedure.key.clone(),
                to_do: (*procedure).into(),
                minutes,
                saves_minutes: outlook.saves(order.iter().filter_map(|of| falls_of(&of.key))),
                order: order.iter().map(|of| of.key.clone()).collect(),
            }
        })
        .collect();
    tests.sort_by(|a, b| {
        b.per_minute().total_cmp(&a.per_minute()).then_with(|| a.procedure.cmp(&b.procedure))
    });
    let next = tests.iter().find(|test| test.is_worth_it()).and_then(|test| test.order.first());
    let next = next.and_then(|key| left.iter().find(|procedure| procedure.key == *key));
    NextTest {
        advice: next.map_or(Advice::NothingMoreIsWorthTesting, |procedure| Advice::Test((*procedure).into())),
        tests,
        mandatory: mandatory.into_iter().map(Into::into).collect(),
        loss_minutes: loss,
    }
}

fn is_done(case: &Case, procedure: &Key) -> bool {
    case.done.contains(procedure)
        || case.observations.iter().any(|seen| seen.key.procedure() == procedure.as_str())
}

fn is_mandatory(tables: &Tables, case: &Case, procedure: &Key) -> bool {
    tables.catalogue.mandatory.iter().any(|test| {
        test.procedure == *procedure
            && match test.when {
                Mandatory::Always => true,
                Mandatory::AfterWetWork => case.wet_work,
            }
    })
}

/// A test behind all those that it needs and that are not done, each once, needed ones first.
fn order<'a>(tables: &'a Tables, case: &Case, of: &'a Procedure) -> Vec<&'a Procedure> {
    fn visit<'a>(
        tables: &'a Tables,
        case: &Case,
        of: &'a Procedure,
        order: &mut Vec<&'a Procedure>,
        depth: usize,
    ) {
        // Chains of needs are short; a longer one is a circle.
        if depth > 8 || order.iter().any(|have| have.key == of.key) {
            return;
        }
        for precondition in &of.preconditions {
            let (Precondition::Read { procedure, .. } | Precondition::Passed { procedure, .. }) =
                precondition
            else {
                continue;
            };
            let needed = tables.procedures.iter().find(|candidate| candidate.key == *procedure);
            if let Some(needed) = needed.filter(|needed| !is_done(case, &needed.key)) {
                visit(tables, case, needed, order, depth + 1);
            }
        }
        if !order.iter().any(|have| have.key == of.key) {
            order.push(of);
        }
    }
    let mut order_of = Vec::new();
    visit(tables, case, of, &mut order_of, 0);
    order_of
}
