//! What to do next in words.

use domain::danger::Danger;
use domain::diagnosis::{
    Advice, Diagnosis, DoAndReadAgain, Hazard, Mend, Outcome, PartAdvice, TestAdvice, TestToDo,
};
use domain::procedure::Precondition;

use super::{parts, reading_called, titles};
use crate::figures::{NO_MINUTES, minutes, percent};
use crate::{say, say_with, term, text};

/// What to do next, behind what must not be done.
pub fn of_advice(of: &Diagnosis) -> String {
    let mut sentences = Vec::new();
    if !of.next.hazards.is_empty() {
        sentences.push(isolation(&of.next.hazards));
    }
    sentences.push(match &of.next.advice {
        Advice::Test(test) => of_next(of, test),
        Advice::DoAndReadAgain(again) => of_again(again),
        Advice::MendAndProve => of_mending(of),
        Advice::Isolate => {
            let is_workable = of.next.hazards.iter().all(|hazard| hazard.danger != Danger::Gas);
            match of.next.mend.first().filter(|_| is_workable) {
                Some(first) => say_with("judge-mend-dead", &[("what", mended(of, first).into())]),
                None => say("judge-stays-off"),
            }
        }
    });
    if !of.next.mandatory.is_empty() {
        let due: Vec<_> = of.next.mandatory.iter().map(|test| text(test.title.as_str())).collect();
        let key = if of.next.hazards.is_empty() { "judge-due" } else { "judge-due-dead" };
        sentences.push(say_with(key, &[("what", due.join("; ").into())]));
    }
    sentences.join(" ")
}

fn of_next(of: &Diagnosis, test: &TestToDo) -> String {
    let leads_to =
        |advice: &&TestAdvice| advice.is_worth_it() && advice.order.first() == Some(&test.procedure);
    let aim = of.next.tests.iter().find(leads_to);
    let is_dead = !of.next.hazards.is_empty();
    let key = match (aim, is_dead) {
        (Some(aim), false) if aim.order.len() > 1 => "judge-next-needed",
        (Some(aim), true) if aim.order.len() > 1 => "judge-next-dead-needed",
        (Some(_), false) => "judge-next-saves",
        (Some(_), true) => "judge-next-dead-saves",
        (None, false) => "judge-next",
        (None, true) => "judge-next-dead",
    };
    let mut variables = vec![("test", called(test).into()), ("minutes", minutes(test.minutes).into())];
    if let Some(aim) = aim {
        variables.extend([
            ("aim", text(aim.to_do.title.as_str()).into_owned().into()),
            ("together", minutes(aim.minutes).into()),
            ("saves", saves(aim).into()),
        ]);
    }
    say_with(key, &variables)
}

fn of_mending(of: &Diagnosis) -> String {
    let proof = say(if of.next.mandatory.is_empty() { "judge-by-failed" } else { "judge-by-due" });
    let list = |mends: &[Mend]| mends.iter().map(|mend| mended(of, mend)).collect::<Vec<_>>().join("; ");
    let all = &of.next.mend;
    let (probable, cheap) = all.split_at(all.partition_point(|mend| mend.probability >= 0.5));
    let key = match (probable, cheap) {
        ([], []) => "judge-nothing-to-mend",
        ([], _) => "judge-only-cheap",
        (_, []) => "judge-mend",
        _ => "judge-mend-and-cheap",
    };
    let variables =
        [("proof", proof.into()), ("probable", list(probable).into()), ("cheap", list(cheap).into())];
    say_with(key, &variables)
}

fn mended(of: &Diagnosis, mend: &Mend) -> String {
    let variables = [
        ("faults", titles(of, &mend.faults, &say("or")).into()),
        ("probability", percent(mend.probability).into()),
        ("action", term("remedy", mend.action.key()).into_owned().into()),
    ];
    say_with("judge-mended", &variables)
}

/// What is decided, in words.
pub fn of_mend(of: &Diagnosis, mend: &Mend) -> String {
    let key = if mend.parts.is_empty() { "judge-mend-one" } else { "judge-mend-one-parts" };
    say_with(key, &[("mended", mended(of, mend).into()), ("parts", parts(&mend.parts).into())])
}

/// A danger, and what tells of it.
pub fn of_hazard(of: &Diagnosis, hazard: &Hazard) -> String {
    let by: Vec<String> = hazard.shown_by.iter().map(|key| reading_called(of, key)).collect();
    let by = if by.is_empty() { say("judge-as-told") } else { by.join(", ") };
    let danger = term("danger", hazard.danger.word()).into_owned();
    say_with("judge-hazard", &[("danger", danger.into()), ("shown", by.into())])
}

/// Said before any advice while a danger stands. Where gas is smelt, to switch off may be the spark.
pub(super) fn isolation(hazards: &[Hazard]) -> String {
    let is_gas = hazards.iter().any(|hazard| hazard.danger == Danger::Gas);
    say(if is_gas { "judge-isolate-gas" } else { "judge-isolate" })
}

/// Its title, or the steps that are left of it.
fn called(test: &TestToDo) -> String {
    let title = text(test.title.as_str()).into_owned();
    if test.only.is_empty() {
        return title;
    }
    let steps: Vec<_> = test.only.iter().map(|step| text(step.title.as_str())).collect();
    let variables = [("steps", steps.join(", ").into()), ("test", title.into())];
    say_with("judge-called", &variables)
}

pub fn of_test(test: &TestToDo) -> String {
    let variables = [("test", called(test).into()), ("minutes", minutes(test.minutes).into())];
    let mut said = vec![say_with("judge-test", &variables)];
    if !test.skills.is_empty() {
        let skills: Vec<_> = test.skills.iter().map(|skill| term("skill", skill.as_str())).collect();
        said.push(say_with("judge-test-skills", &[("skills", skills.join(", ").into())]));
    }
    if test.defeats_interlock {
        said.push(say("judge-test-interlock"));
    }
    format!("{}.", said.join("; "))
}

/// What must hold before it.
pub fn preconditions(test: &TestToDo) -> Vec<String> {
    let word = |list: &str, key: &domain::text::Key| term(list, key.as_str()).into_owned().into();
    let in_words = |precondition: &Precondition| match precondition {
        Precondition::Read { procedure, step, .. } => {
            say_with("need-read", &[("what", word("step", step)), ("test", word("procedure", procedure))])
        }
        Precondition::Passed { procedure, step: None, .. } => {
            say_with("need-passed", &[("test", word("procedure", procedure))])
        }
        Precondition::Passed { procedure, step: Some(step), .. } => {
            let variables = [("what", word("step", step)), ("test", word("procedure", procedure))];
            say_with("judge-need-step-passed", &variables)
        }
        Precondition::Confirmed { statement, .. } => text(statement.as_str()).into_owned(),
    };
    test.preconditions.iter().map(in_words).collect()
}

pub fn of_again(again: &DoAndReadAgain) -> String {
    let outcomes: Vec<String> = again.outcomes.iter().map(outcome_of).collect();
    let variables = [
        ("first", text(&again.first).into_owned().into()),
        ("test", called(&again.read).into()),
        ("minutes", minutes(again.read.minutes).into()),
        ("outcomes", outcomes.join(" ").into()),
    ];
    say_with("judge-again", &variables)
}

/// What may be read, and what it would say.
pub fn outcome_of(outcome: &Outcome) -> String {
    let variables = [
        ("read", text(&outcome.read).into_owned().into()),
        ("says", text(&outcome.says).into_owned().into()),
    ];
    say_with("judge-again-if", &variables)
}

pub fn of_test_advice(advice: &TestAdvice) -> String {
    let before = &advice.order[..advice.order.len().saturating_sub(1)];
    let key = if before.is_empty() { "judge-advice" } else { "judge-advice-behind" };
    let before: Vec<_> = before.iter().map(|test| term("procedure", test.as_str())).collect();
    let worth = say(if advice.is_worth_it() { "judge-worth" } else { "judge-not-worth" });
    let variables = [
        ("test", called(&advice.to_do).into()),
        ("minutes", minutes(advice.minutes).into()),
        ("before", before.join(", ").into()),
        ("saves", saves(advice).into()),
        ("worth", worth.into()),
    ];
    say_with(key, &variables)
}

/// Doubt stands apart: nobody gets its minutes back.
fn saves(advice: &TestAdvice) -> String {
    let variables = [
        ("saved", minutes(advice.saves_minutes).into()),
        ("doubt", minutes(advice.less_doubt_minutes).into()),
    ];
    say_with(if advice.saves_minutes > NO_MINUTES { "judge-saves" } else { "judge-settles" }, &variables)
}

pub fn of_part(part: &PartAdvice) -> String {
    let variables = [
        ("part", term("part", part.part.as_str()).into_owned().into()),
        ("needed", percent(part.needed).into()),
        ("ends", percent(part.ends_job).into()),
    ];
    say_with("judge-part", &variables)
}
