//! Plain words for the telephone: to a cook, without figures and without the trade's words.

use domain::diagnosis::{Diagnosis, Stated, Statement};

use crate::{caution, say, say_with, term};

/// From which probability on which word is used; less is not named.
const WORDS: [(f64, &str); 4] =
    [(0.95, "certainly"), (0.75, "very-probably"), (0.5, "probably"), (0.25, "perhaps")];
/// So many places at most are named: nobody keeps more in mind on the telephone.
const MOST_NAMED: usize = 3;

/// What a caller is told: where it most probably is, and what comes next.
pub fn plain_words(of: &Diagnosis) -> String {
    let mut sentences: Vec<String> = Vec::new();
    for hazard in &of.next.hazards {
        // The first of its cautions is for whoever stands beside the machine.
        let first = caution::of_dangers(&[hazard.danger], false).into_iter().next().map(|(text, _)| text);
        sentences.extend(first.filter(|text| !sentences.contains(text)));
    }
    if !sentences.is_empty() {
        sentences.push(say("judge-plain-keep-away"));
    }
    let mut named: Vec<String> = Vec::new();
    for statement in of.statements() {
        let Some((_, how)) = WORDS.iter().find(|(least, _)| statement.probability >= *least) else { break };
        let (what, that) = place(&statement);
        if named.contains(&what) || named.len() == MOST_NAMED {
            continue;
        }
        sentences.push(say_with(&format!("judge-plain-{that}{how}"), &[("what", what.clone().into())]));
        named.push(what);
    }
    if named.is_empty() {
        sentences.push(say("judge-plain-several"));
    }
    if of.parts.parts.iter().any(|part| part.needed >= 0.5) {
        sentences.push(say("judge-plain-bring"));
    }
    sentences.join(" ")
}

/// Where a fault is in the words of a kitchen, and how the sentence about it goes.
fn place(statement: &Statement<'_>) -> (String, &'static str) {
    match &statement.what {
        Stated::Faults(faults) => {
            let first = faults.first().map(|of| term("plain", of.position.key()).into_owned());
            (first.unwrap_or_default(), "")
        }
        Stated::NotDescribed => (say("judge-plain-unusual"), "that-"),
        Stated::MachineSound | Stated::NothingWrong => (say("judge-plain-nothing-wrong"), "that-"),
    }
}
