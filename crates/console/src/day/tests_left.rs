//! What can be tested on the machine, what of it was, and what comes next.

use application::see_visit::VisitFile;
use domain::diagnosis::{Advice, TestToDo};
use domain::procedure::Procedure;
use domain::text::Key;
use domain::vocabulary::Condition;

/// How a procedure stands, by what was read of it since the machine was changed last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    NotRead,
    Keeps,
    Open,
    Fails,
}

pub(super) struct TestView {
    pub to: String,
    pub title: String,
    pub minutes: String,
    pub mark: &'static str,
    pub tone: &'static str,
    pub stands: String,
    pub is_next: bool,
}

pub(super) fn standing(of: &VisitFile, procedure: &Key) -> Standing {
    let Ok(verdicts) = &of.file.verdicts else { return Standing::NotRead };
    let own = verdicts.assessment.verdicts.iter().filter(|verdict| verdict.of.procedure == *procedure);
    own.fold(Standing::NotRead, |standing, verdict| match (verdict.condition, standing) {
        (Condition::Failed, _) | (_, Standing::Fails) => Standing::Fails,
        (Condition::Degraded | Condition::Inconclusive, _) | (_, Standing::Open) => Standing::Open,
        (Condition::Ok | Condition::NotTested, _) => Standing::Keeps,
    })
}

/// Whether a step was read since the machine was changed last.
pub(super) fn is_read(of: &VisitFile, procedure: &Key, step: &Key) -> bool {
    let Ok(verdicts) = &of.file.verdicts else { return false };
    let in_epoch = of.runs.iter().filter(|run| run.epoch == verdicts.current_epoch);
    in_epoch.filter(|run| run.procedure.key == *procedure).any(|run| run.reading(step).is_some())
}

/// The test that is advised.
pub(super) fn next(of: &VisitFile) -> Option<&TestToDo> {
    match &of.file.diagnosis.as_ref().ok()?.diagnosis.next.advice {
        Advice::Test(test) => Some(test),
        Advice::DoAndReadAgain(again) => Some(&again.read),
        Advice::MendAndProve | Advice::Isolate => None,
    }
}

/// All of them: the next first, then by what each is worth, then what must be done in any case, then the rest by title.
pub(super) fn all(of: &VisitFile) -> Vec<TestView> {
    let next = next(of).map(|test| &test.procedure);
    let advised: Vec<&Key> = match &of.file.diagnosis {
        Ok(diagnosed) => {
            let advice = &diagnosed.diagnosis.next;
            let worth = advice.tests.iter().filter(|test| test.is_worth_it()).map(|test| &test.procedure);
            next.into_iter().chain(worth).chain(advice.mandatory.iter().map(|test| &test.procedure)).collect()
        }
        Err(_) => Vec::new(),
    };
    let rank = |procedure: &&Procedure| {
        advised.iter().position(|key| **key == procedure.key).unwrap_or(advised.len())
    };
    let mut procedures: Vec<&Procedure> = of.procedures.iter().collect();
    procedures.sort_by_key(rank);
    procedures
        .into_iter()
        .map(|procedure| {
            let (mark, tone, stands) = match standing(of, &procedure.key) {
                Standing::NotRead => ("", "plain", "test-not-read"),
                Standing::Keeps => ("✓", "good", "test-keeps"),
                Standing::Open => ("◆", "doubtful", "test-open"),
                Standing::Fails => ("✗", "bad", "test-fails"),
            };
            let minutes = crate::order::figure(procedure.minutes);
            TestView {
                to: format!("/day/{}/procedures/{}", of.visit.id, procedure.key),
                title: wording::text(procedure.title.as_str()).into_owned(),
                minutes: wording::say_with("test-minutes", &[("minutes", minutes.into())]),
                mark,
                tone,
                stands: wording::say(stands),
                is_next: next == Some(&procedure.key),
            }
        })
        .collect()
}
