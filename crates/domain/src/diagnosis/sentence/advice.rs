//! What to do next in words.

use std::fmt::Write as _;

use super::figures::{Minutes, NO_MINUTES, Percent, words};
use crate::danger::Danger;
use crate::diagnosis::answer::Diagnosis;
use crate::diagnosis::hazard::Hazard;
use crate::diagnosis::next_test::{Advice, DoAndReadAgain, Mend, TestAdvice, TestToDo};
use crate::procedure::Precondition;

impl Diagnosis {
    /// What to do next, behind what must not be done.
    pub fn sentence_of_advice(&self) -> String {
        let mut text = String::new();
        if !self.next.hazards.is_empty() {
            text.push_str(isolation(&self.next.hazards));
            text.push(' ');
        }
        match &self.next.advice {
            Advice::Test(test) => text.push_str(&self.sentence_of_test(test)),
            Advice::DoAndReadAgain(again) => text.push_str(&of_again(again)),
            Advice::MendAndProve => text.push_str(&self.sentence_of_mending()),
            Advice::Isolate => {
                text.push_str("Nothing that can be done dead is worth its minutes");
                let is_workable = self.next.hazards.iter().all(|hazard| hazard.danger != Danger::Gas);
                match self.next.mend.first().filter(|_| is_workable) {
                    Some(first) => {
                        let _ = write!(text, ": mend what is decided, dead ({}).", self.mended(first));
                    }
                    None => text.push_str(": it stays off until the danger is over."),
                }
            }
        }
        if !self.next.mandatory.is_empty() {
            let due: Vec<&str> = self.next.mandatory.iter().map(|test| test.title.as_str()).collect();
            let once = if self.next.hazards.is_empty() { "" } else { "once the danger is over, " };
            let _ = write!(text, " Due in any case {once}before the job ends: {}.", due.join("; "));
        }
        text
    }

    fn sentence_of_test(&self, test: &TestToDo) -> String {
        let leads_to =
            |advice: &&TestAdvice| advice.is_worth_it() && advice.order.first() == Some(&test.procedure);
        let aim = self.next.tests.iter().find(leads_to);
        let dead = if self.next.hazards.is_empty() { "Next: " } else { "Next, dead: " };
        let mut text = format!("{dead}{}, {} min", called(test), Minutes(test.minutes));
        match aim {
            Some(aim) if aim.order.len() > 1 => {
                let _ = write!(
                    text,
                    ", which {} needs; together {} min, {}",
                    aim.to_do.title,
                    Minutes(aim.minutes),
                    saves(aim)
                );
            }
            Some(aim) => {
                let _ = write!(text, ", {}", saves(aim));
            }
            None if self.next.hazards.is_empty() => {}
            None => text.push_str(", to find where the danger comes from"),
        }
        text.push('.');
        text
    }

    fn sentence_of_mending(&self) -> String {
        let proofs: Vec<&str> = self.next.mandatory.iter().map(|test| test.title.as_str()).collect();
        let prove = if proofs.is_empty() { "by what failed before" } else { "by what is due" };
        if self.next.mend.is_empty() {
            return format!(
                "No test is worth its minutes, and no fault is worth mending: explain the use, and prove {prove} that the machine works."
            );
        }
        let list = |of: &[Mend]| of.iter().map(|mend| self.mended(mend)).collect::<Vec<_>>().join("; ");
        let (probable, cheap) =
            self.next.mend.split_at(self.next.mend.partition_point(|mend| mend.probability >= 0.5));
        match (probable, cheap) {
            ([], cheap) => format!(
                "No test is worth its minutes, and nothing is probable. Cheaper to do than to leave, then to be proven \
                 {prove}: {}.",
                list(cheap)
            ),
            (probable, []) => {
                format!("No test is worth its minutes. Mend and prove {prove}: {}.", list(probable))
            }
            (probable, cheap) => format!(
                "No test is worth its minutes. Mend and prove {prove}: {}. On the way, cheaper to do than to leave: {}.",
                list(probable),
                list(cheap)
            ),
        }
    }

    fn mended(&self, mend: &Mend) -> String {
        let titles: Vec<String> = mend.faults.iter().map(|fault| self.title(fault)).collect();
        format!("{} ({}), to be {}", titles.join(" or "), Percent(mend.probability), words(mend.action.key()))
    }

    /// A danger, and what tells of it.
    pub fn sentence_of_hazard(&self, hazard: &Hazard) -> String {
        let by: Vec<String> = hazard.shown_by.iter().map(|key| self.reading_called(key)).collect();
        let by = if by.is_empty() { "as told".to_owned() } else { by.join(", ") };
        format!("Danger: {} ({by}).", hazard.danger.words())
    }
}

/// Said before any advice while a danger stands. Where gas is smelt, to switch off may be the spark.
pub(super) fn isolation(hazards: &[Hazard]) -> &'static str {
    if hazards.iter().any(|hazard| hazard.danger == Danger::Gas) {
        "Nobody switches anything, nor works at the machine: leave, ventilate, call the emergency line, until somebody \
         licensed says that it is over."
    } else {
        "Isolate the machine, lock it and leave it off: nothing under power or live until somebody qualified says that \
         the danger is over."
    }
}

/// Its title, or the steps that are left of it.
fn called(test: &TestToDo) -> String {
    if test.only.is_empty() {
        return test.title.to_string();
    }
    let steps: Vec<&str> = test.only.iter().map(|step| step.title.as_str()).collect();
    format!("{} ({})", steps.join(", "), test.title)
}

impl TestToDo {
    pub fn sentence(&self) -> String {
        of_test(self)
    }

    /// What must hold before it, in words.
    pub fn preconditions_in_words(&self) -> Vec<String> {
        preconditions(self)
    }
}

fn of_test(test: &TestToDo) -> String {
    let mut text = format!("{}: {} min", called(test), Minutes(test.minutes));
    if !test.skills.is_empty() {
        let skills: Vec<String> = test.skills.iter().map(|skill| words(skill.as_str())).collect();
        let _ = write!(text, "; only who holds: {}", skills.join(", "));
    }
    if test.defeats_interlock {
        text.push_str("; opens an interlock: a second person, a time limit, the removal recorded");
    }
    text.push('.');
    text
}

fn preconditions(test: &TestToDo) -> Vec<String> {
    let in_words = |precondition: &Precondition| match precondition {
        Precondition::Read { procedure, step, .. } => {
            format!("{} is read ({})", words(step.as_str()), words(procedure.as_str()))
        }
        Precondition::Passed { procedure, step: None, .. } => {
            format!("{} passed", words(procedure.as_str()))
        }
        Precondition::Passed { procedure, step: Some(step), .. } => {
            format!("{} passed ({})", words(step.as_str()), words(procedure.as_str()))
        }
        Precondition::Confirmed { statement, .. } => statement.to_string(),
    };
    test.preconditions.iter().map(in_words).collect()
}

fn of_again(again: &DoAndReadAgain) -> String {
    let outcomes: Vec<String> =
        again.outcomes.iter().map(|of| format!("If {}: {}", of.read, of.says)).collect();
    format!(
        "Next: {}, then {} again; {} min. {}",
        again.first,
        called(&again.read),
        Minutes(again.read.minutes),
        outcomes.join(" ")
    )
}

/// Doubt stands apart: nobody gets its minutes back.
fn saves(advice: &TestAdvice) -> String {
    let settles = format!("to settle doubt worth {} min", Minutes(advice.less_doubt_minutes));
    if advice.saves_minutes > NO_MINUTES {
        let saved = Minutes(advice.saves_minutes);
        format!("likely to save {saved} min of second journeys and needless repairs, and {settles}")
    } else {
        settles
    }
}
