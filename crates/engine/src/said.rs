//! A diagnosis in the sentences that the office shows.

use domain::diagnosis::{Advice, Diagnosis, TestToDo};
use serde::Serialize;

/// Sets that are worth a line.
const SETS: usize = 4;

#[derive(Default, Serialize)]
pub struct Said {
    /// What is likely wrong.
    wrong: String,
    sets: Vec<String>,
    look_alikes: Vec<String>,
    /// What to do next.
    next: String,
    /// The procedure that comes next, and why it.
    procedure: Option<String>,
    test: Option<String>,
    /// What must hold before.
    before: Vec<String>,
    cautions: Vec<String>,
    /// What the reader must know before trusting the numbers.
    notes: Vec<String>,
}

impl Said {
    pub fn of(diagnosis: &Diagnosis) -> Self {
        let test = match &diagnosis.next.advice {
            Advice::Test(test) => Some(test),
            Advice::DoAndReadAgain(again) => Some(&again.read),
            Advice::MendAndProve | Advice::Isolate => None,
        };
        let cautions = test.into_iter().flat_map(|test| &test.cautions);
        Self {
            wrong: diagnosis.sentence(),
            sets: diagnosis.sets.iter().take(SETS).map(|set| diagnosis.sentence_of_set(set)).collect(),
            look_alikes: diagnosis
                .look_alikes
                .iter()
                .map(|of| diagnosis.sentence_of_look_alikes(of))
                .collect(),
            next: diagnosis.sentence_of_advice(),
            procedure: test.map(|test| test.procedure.to_string()),
            test: test.map(TestToDo::sentence),
            before: test.map(TestToDo::preconditions_in_words).unwrap_or_default(),
            cautions: cautions
                .map(|caution| match &caution.regulation {
                    Some(rule) => format!("{} ({rule})", caution.text.as_str()),
                    None => caution.text.to_string(),
                })
                .collect(),
            notes: diagnosis.notes.iter().map(|note| diagnosis.sentence_of_note(note)).collect(),
        }
    }
}
