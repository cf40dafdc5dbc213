//! Questions and their answers.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use domain::evidence::TestRun;
use domain::judgement::{Evidence, Judge, Judgement, Knowledge};
use domain::violation::Violation;
use serde::{Deserialize, Serialize};

use crate::said::Said;

/// What can be asked.
#[derive(Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
pub enum Question {
    /// Makes knowledge ready under a name, which takes a second. Asked again under the same name it is at once.
    Learn { name: String, knowledge: Box<Knowledge> },
    /// What follows from an order's evidence and from what was read since and not sent yet.
    Judge {
        name: String,
        evidence: Box<Evidence>,
        #[serde(default)]
        taken: Vec<TestRun>,
    },
    /// Whether a run may be kept, and what in it is doubtful.
    Check { name: String, run: Box<TestRun> },
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum Answer {
    Learned,
    Judged {
        #[serde(flatten)]
        judgement: Box<Judgement>,
        said: Said,
    },
    Checked {
        doubts: Vec<Violation>,
    },
    Violations(Vec<Violation>),
    /// Why there is no answer.
    Refused(String),
}

/// What was made ready so far.
#[derive(Default)]
pub struct Engine {
    judges: BTreeMap<String, Judge>,
}

impl Engine {
    /// Answers a question in JSON, in JSON: always, and if only with why not.
    pub fn answer(&mut self, question: &[u8]) -> Vec<u8> {
        let answer = match serde_json::from_slice(question) {
            Ok(question) => self.answered(question).unwrap_or_else(Answer::Refused),
            Err(error) => Answer::Refused(format!("this is no question: {error}")),
        };
        serde_json::to_vec(&answer).unwrap_or_default()
    }

    fn answered(&mut self, question: Question) -> Result<Answer, String> {
        match question {
            Question::Learn { name, knowledge } => {
                if let Entry::Vacant(place) = self.judges.entry(name) {
                    match Judge::new(*knowledge) {
                        Ok(judge) => drop(place.insert(judge)),
                        Err(violations) => return Ok(Answer::Violations(violations)),
                    }
                }
                Ok(Answer::Learned)
            }
            Question::Judge { name, mut evidence, taken } => {
                let epoch = evidence.epoch();
                let known: Vec<_> = evidence.runs.iter().map(|run| run.id).collect();
                let new = taken.into_iter().filter(|run| !known.contains(&run.id));
                evidence.runs.extend(new.map(|run| TestRun { epoch, ..run }));
                let judgement = self.judge(&name)?.judge(&evidence).map_err(|error| error.to_string())?;
                let said = judgement.diagnosis.as_ref().map(Said::of).unwrap_or_default();
                Ok(Answer::Judged { judgement: Box::new(judgement), said })
            }
            Question::Check { name, run } => Ok(match self.judge(&name)?.check(&run) {
                Ok(doubts) => {
                    let doubt = |doubt: domain::evidence::Doubt| Violation {
                        pointer: doubt.pointer,
                        detail: doubt.detail,
                    };
                    Answer::Checked { doubts: doubts.into_iter().map(doubt).collect() }
                }
                Err(violations) => Answer::Violations(violations),
            }),
        }
    }

    fn judge(&self, name: &str) -> Result<&Judge, String> {
        self.judges.get(name).ok_or_else(|| format!("{name} was not learned yet"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answer(question: &str) -> serde_json::Value {
        serde_json::from_slice(&Engine::default().answer(question.as_bytes())).unwrap()
    }

    #[test]
    fn nonsense_and_the_unknown_are_told() {
        for (question, wanted) in [
            ("", "this is no question"),
            ("{\"ask\": \"sing\"}", "unknown variant"),
            ("{\"ask\": \"judge\", \"name\": \"a\", \"evidence\": {}}", "missing field"),
            ("{\"ask\": \"check\", \"name\": \"combi\", \"run\": {\"id\": 1}}", "this is no question"),
        ] {
            let said = answer(question)["refused"].as_str().unwrap().to_owned();
            assert!(said.contains(wanted), "{question}: {said}");
        }
    }
}
