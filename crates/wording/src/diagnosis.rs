//! A diagnosis in plain words, one sentence for each thing that it says.

mod advice;
mod plain;
mod reading;

pub use advice::{
    of_advice, of_again, of_hazard, of_mend, of_part, of_test, of_test_advice, outcome_of, preconditions,
};
pub use plain::plain_words;
pub use reading::{of_reading, of_repeats, of_set_aside};

use domain::diagnosis::{Diagnosis, LookAlikes, Note, RankedFault, RankedSet, Stated, Statement};
use domain::equipment::ObservationKey;
use domain::text::Key;

use crate::figures::percent;
use crate::{say, say_with, term, text};

/// What limits the answer, then what is near certain, then what is open.
pub fn sentence(of: &Diagnosis) -> String {
    let loud = of.notes.iter().filter(|note| !matches!(note, Note::NeverConsidered { .. }));
    let mut text = loud.map(|note| of_note(of, note)).collect::<Vec<_>>();
    text.push(of_statements(of));
    text.join(" ")
}

/// What is sure, then what is open, and how probable the likeliest of it are together.
fn of_statements(of: &Diagnosis) -> String {
    let statements = of.statements();
    let with_figure = |of: &Statement<'_>| {
        let variables = [("what", stated(&of.what).into()), ("probability", percent(of.probability).into())];
        say_with("judge-with-figure", &variables)
    };
    let list = |of: &[Statement<'_>]| of.iter().map(with_figure).collect::<Vec<_>>().join("; ");
    let what = |key: &str, what: String| say_with(key, &[("what", what.into())]);
    let sure = statements.partition_point(|of| of.probability >= Statement::SURE);
    let (sure, open) = statements.split_at(sure);
    let mut sentences = Vec::new();
    if !sure.is_empty() {
        sentences.push(what("judge-sure", list(sure)));
    }
    if let Some(first) = open.first() {
        let key = match (sure.is_empty(), first.probability >= 0.5) {
            (false, _) => "judge-open",
            (true, true) => "judge-probably",
            (true, false) => "judge-thought-of-first",
        };
        let together = together(of, &statements);
        sentences.push(what(
            key,
            [Some(list(open)), together].into_iter().flatten().collect::<Vec<_>>().join("; "),
        ));
    } else if sure.is_empty() {
        sentences.push(say("judge-nothing-stands-out"));
    }
    sentences.join(" ")
}

fn stated(what: &Stated<'_>) -> String {
    match what {
        Stated::Faults(faults) => {
            faults.iter().map(|of| text(of.title.as_str())).collect::<Vec<_>>().join(&say("or"))
        }
        Stated::MachineSound => say("judge-machine-sound"),
        Stated::NothingWrong => say("judge-nothing-wrong"),
        Stated::NotDescribed => say("judge-not-described"),
    }
}

fn together(of: &Diagnosis, statements: &[Statement<'_>]) -> Option<String> {
    let set = of.named_together(statements)?;
    let keys: Vec<&Key> = set.faults.iter().chain(&set.external_states).collect();
    let of_faults = statements.iter().filter(|of| matches!(of.what, Stated::Faults(_))).count();
    let probability = ("probability", percent(set.probability).into());
    Some(if (keys.len(), of_faults) == (2, 2) {
        say_with("judge-both-together", &[probability])
    } else {
        let titles: Vec<String> = keys.iter().map(|key| title(of, key)).collect();
        say_with("judge-these-together", &[("what", titles.join(&say("judge-and")).into()), probability])
    })
}

/// Each thing with its own probability, then that they stand together and nothing else.
pub fn of_set(of: &Diagnosis, set: &RankedSet) -> String {
    let probability = ("probability", percent(set.probability).into());
    if set.is_empty() {
        return say_with("judge-set-nothing", &[probability]);
    }
    let mut things: Vec<String> =
        set.faults.iter().chain(&set.external_states).map(|key| with_its_figure(of, key)).collect();
    things.extend(set.other_in.iter().map(|subsystem| {
        let subsystem = term("subsystem", subsystem.key()).into_owned();
        say_with("judge-not-described-in", &[("subsystem", subsystem.into())])
    }));
    let is_sound = set.faults.is_empty() && set.other_in.is_empty();
    let key = match (things.len(), is_sound) {
        (1, false) => "judge-set-one",
        (1, true) => "judge-set-one-sound",
        (_, false) => "judge-set-several",
        (_, true) => "judge-set-several-sound",
    };
    say_with(key, &[("what", things.join("; ").into()), probability])
}

fn known<'a>(of: &'a Diagnosis, key: &Key) -> Option<&'a RankedFault> {
    of.faults.iter().chain(&of.external_states).find(|fault| fault.fault == *key)
}

fn with_its_figure(of: &Diagnosis, key: &Key) -> String {
    let Some(fault) = known(of, key) else { return words(key.as_str()) };
    let variables = [
        ("what", text(fault.title.as_str()).into_owned().into()),
        ("probability", percent(fault.probability).into()),
    ];
    say_with("judge-with-figure", &variables)
}

fn title(of: &Diagnosis, key: &Key) -> String {
    known(of, key).map_or_else(|| words(key.as_str()), |fault| text(fault.title.as_str()).into_owned())
}

fn titles(of: &Diagnosis, keys: &[Key], between: &str) -> String {
    keys.iter().map(|key| title(of, key)).collect::<Vec<_>>().join(between)
}

/// What it needs tells from this alone.
pub fn of_note(of: &Diagnosis, note: &Note) -> String {
    let what = |key: &str, name: &str, text: String| say_with(key, &[(name, text.into())]);
    let keys = |faults: &[Key]| faults.iter().map(Key::as_str).collect::<Vec<_>>().join(", ");
    match note {
        Note::Danger { hazards } => {
            let each = hazards.iter().map(|hazard| of_hazard(of, hazard));
            each.chain([advice::isolation(hazards)]).collect::<Vec<_>>().join(" ")
        }
        Note::WhichMachine { models } => {
            let each = |(model, share): &(Key, f64)| format!("{} {}", words(model.as_str()), percent(*share));
            let models = models.iter().map(each).collect::<Vec<_>>().join(", ");
            what("judge-note-which-machine", "models", models)
        }
        Note::NothingRead => say("judge-note-nothing-read"),
        Note::NothingKnown => say("judge-note-nothing-known"),
        Note::Contradiction { keys } => {
            let key =
                if keys.len() == 1 { "judge-note-contradicts-itself" } else { "judge-note-contradiction" };
            what(key, "what", readings_called(of, keys))
        }
        Note::ComplaintUnknown { complaint } => {
            what("judge-note-complaint-unknown", "complaint", term("symptom", complaint.key()).into_owned())
        }
        Note::Unexplained { keys } => what("judge-note-unexplained", "what", readings_called(of, keys)),
        Note::OutsideTheCatalogue { probability } => {
            what("judge-note-outside", "probability", percent(*probability))
        }
        Note::NeverConsidered { faults } => what("judge-note-never-considered", "faults", keys(faults)),
        Note::UnknownFinding { faults } => what("judge-note-unknown-finding", "faults", keys(faults)),
        Note::ReadingsLeftOut => say("judge-note-left-out"),
    }
}

pub fn of_look_alikes(of: &Diagnosis, alike: &LookAlikes) -> String {
    let variables = [
        ("what", titles(of, &alike.faults, "; ").into()),
        ("probability", percent(alike.probability).into()),
    ];
    say_with("judge-look-alikes", &variables)
}

pub fn of_fault(fault: &RankedFault) -> String {
    let key = if fault.parts.is_empty() { "judge-fault" } else { "judge-fault-with-parts" };
    let variables = [
        ("fault", text(fault.title.as_str()).into_owned().into()),
        ("probability", percent(fault.probability).into()),
        ("action", term("remedy", fault.action.key()).into_owned().into()),
        ("parts", parts(&fault.parts).into()),
    ];
    say_with(key, &variables)
}

fn parts(parts: &[Key]) -> String {
    parts.iter().map(|part| term("part", part.as_str())).collect::<Vec<_>>().join(&say("judge-and"))
}

fn readings_called(of: &Diagnosis, keys: &[ObservationKey]) -> String {
    keys.iter().map(|key| reading_called(of, key)).collect::<Vec<_>>().join("; ")
}

fn reading_called(of: &Diagnosis, key: &ObservationKey) -> String {
    let known = of.readings.iter().find(|reading| reading.key == *key);
    known.map_or_else(|| term("step", key.step()).into_owned(), |reading| text(&reading.title).into_owned())
}

/// The words of a key that has no others.
fn words(key: &str) -> String {
    key.replace('_', " ")
}
