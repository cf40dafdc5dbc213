//! A diagnosis in plain English, one sentence for each thing that a phone without signal says: word for word as `wording` says it,
//! which holds the two against each other.

mod advice;
mod figures;

use std::fmt::Write as _;

use super::answer::{Diagnosis, LookAlikes, Note, RankedSet};
use super::statement::{Stated, Statement};
use crate::equipment::ObservationKey;
use crate::text::Key;

use advice::isolation;
use figures::{Percent, words};

impl Diagnosis {
    /// What limits the answer, then what is near certain, then what is open.
    pub fn sentence(&self) -> String {
        let loud = self.notes.iter().filter(|note| !matches!(note, Note::NeverConsidered { .. }));
        let mut text = loud.map(|note| self.sentence_of_note(note)).collect::<Vec<_>>();
        text.push(self.sentence_of_statements());
        text.join(" ")
    }

    /// Each thing with its own probability, then that they stand together and nothing else.
    pub fn sentence_of_set(&self, set: &RankedSet) -> String {
        let probability = Percent(set.probability);
        if set.is_empty() {
            return format!("Nothing is wrong, neither with the machine nor outside it: {probability}.");
        }
        let mut things: Vec<String> =
            set.faults.iter().chain(&set.external_states).map(|key| self.with_its_figure(key)).collect();
        things.extend(set.other_in.iter().map(|subsystem| {
            let subsystem = words(subsystem.key());
            format!("something in the {subsystem} that the catalogue does not describe")
        }));
        let sound =
            if set.faults.is_empty() && set.other_in.is_empty() { ", and the machine sound" } else { "" };
        match things.as_slice() {
            [one] => format!("{one}; that alone{sound}: {probability}."),
            several => {
                format!("{}; these together and nothing else{sound}: {probability}.", several.join("; "))
            }
        }
    }

    fn with_its_figure(&self, key: &Key) -> String {
        let known = self.faults.iter().chain(&self.external_states).find(|fault| fault.fault == *key);
        known.map_or_else(
            || words(key.as_str()),
            |fault| format!("{} ({})", fault.title, Percent(fault.probability)),
        )
    }

    /// What it needs tells from this alone.
    pub fn sentence_of_note(&self, note: &Note) -> String {
        match note {
            Note::Danger { hazards } => {
                let each = hazards.iter().map(|hazard| self.sentence_of_hazard(hazard));
                each.chain([isolation(hazards).to_owned()]).collect::<Vec<_>>().join(" ")
            }
            Note::WhichMachine { models } => {
                let each =
                    |(model, share): &(Key, f64)| format!("{} {}", words(model.as_str()), Percent(*share));
                let models: Vec<String> = models.iter().map(each).collect();
                format!(
                    "Nobody has said yet which machine it is, so this is a mixture of what its kitchen has ({}); what comes \
                    next is said of the first: make sure which it is.",
                    models.join(", ")
                )
            }
            Note::NothingRead => {
                "Nothing was read yet: this rests on the complaint, the answers and how often \
                faults arise."
                    .to_owned()
            }
            Note::NothingKnown => {
                "Neither complaint nor answers nor readings: this is only how often faults arise.".to_owned()
            }
            Note::Contradiction { keys } if keys.len() == 1 => format!(
                "{} was read with values that cannot both be right; read it again: it was a slip, or it comes and goes.",
                self.readings_called(keys)
            ),
            Note::Contradiction { keys } => {
                format!("These readings contradict each other; repeat them: {}.", self.readings_called(keys))
            }
            Note::ComplaintUnknown { complaint } => format!(
                "No fault of the catalogue is known for the complaint \"{}\": this rests on how often faults arise.",
                words(complaint.key())
            ),
            Note::Unexplained { keys } => format!(
                "Nothing in the catalogue explains what was read, so it counts for little; read it again: {}.",
                self.readings_called(keys)
            ),
            Note::OutsideTheCatalogue { probability } => format!(
                "With {} something is wrong that the catalogue does not describe.",
                Percent(*probability)
            ),
            Note::NeverConsidered { faults } => format!(
                "Never considered, because their rate is zero: {}.",
                faults.iter().map(Key::as_str).collect::<Vec<_>>().join(", ")
            ),
            Note::UnknownFinding { faults } => format!(
                "Findings name faults that this catalogue does not have, and count for nothing here: {}.",
                faults.iter().map(Key::as_str).collect::<Vec<_>>().join(", ")
            ),
            Note::ReadingsLeftOut => {
                "The readings are together too improbable to compute with, so they are left \
                out; repeat them."
                    .to_owned()
            }
        }
    }

    pub fn sentence_of_look_alikes(&self, alike: &LookAlikes) -> String {
        let titles: Vec<String> = alike.faults.iter().map(|fault| self.title(fault)).collect();
        format!(
            "{}: no test of this model tells them apart; at least one of them stands with {}.",
            titles.join("; "),
            Percent(alike.probability)
        )
    }

    fn title(&self, key: &Key) -> String {
        let known = self.faults.iter().chain(&self.external_states).find(|fault| fault.fault == *key);
        known.map_or_else(|| words(key.as_str()), |fault| fault.title.to_string())
    }

    fn readings_called(&self, keys: &[ObservationKey]) -> String {
        keys.iter().map(|key| self.reading_called(key)).collect::<Vec<_>>().join("; ")
    }

    fn reading_called(&self, key: &ObservationKey) -> String {
        let known = self.readings.iter().find(|reading| reading.key == *key);
        known.map_or_else(|| words(key.step()), |reading| reading.title.clone())
    }

    /// What is sure, then what is open, and how probable the likeliest of it are together.
    fn sentence_of_statements(&self) -> String {
        let statements = self.statements();
        let with_figure = |of: &Statement<'_>| format!("{} ({})", stated(&of.what), Percent(of.probability));
        let list = |of: &[Statement<'_>]| of.iter().map(with_figure).collect::<Vec<_>>().join("; ");
        let (sure, open) =
            statements.split_at(statements.partition_point(|of| of.probability >= Statement::SURE));
        let mut text = String::new();
        if !sure.is_empty() {
            let _ = write!(text, "Sure: {}.", list(sure));
        }
        if open.is_empty() {
            if sure.is_empty() {
                text.push_str("Nothing stands out: no single fault is probable.");
            }
            return text;
        }
        if !sure.is_empty() {
            text.push_str(" Open: ");
        } else if open[0].probability >= 0.5 {
            text.push_str("Probably: ");
        } else {
            text.push_str("Nothing is probable yet; to be thought of first: ");
        }
        text.push_str(&list(open));
        if let Some(together) = self.together(&statements) {
            let _ = write!(text, "; {together}");
        }
        text.push('.');
        text
    }

    fn together(&self, statements: &[Statement<'_>]) -> Option<String> {
        let set = self.named_together(statements)?;
        let keys: Vec<&Key> = set.faults.iter().chain(&set.external_states).collect();
        let of_faults = statements.iter().filter(|of| matches!(of.what, Stated::Faults(_))).count();
        let which = if (keys.len(), of_faults) == (2, 2) {
            "both together".to_owned()
        } else {
            let titles: Vec<String> = keys.iter().map(|key| self.title(key)).collect();
            format!("{} together", titles.join(" and "))
        };
        Some(format!("{which} {}", Percent(set.probability)))
    }
}

fn stated(what: &Stated<'_>) -> String {
    match what {
        Stated::Faults(faults) => faults.iter().map(|of| of.title.as_str()).collect::<Vec<_>>().join(" or "),
        Stated::MachineSound => "the machine itself is sound".to_owned(),
        Stated::NothingWrong => "nothing is wrong".to_owned(),
        Stated::NotDescribed => "something that the catalogue does not describe".to_owned(),
    }
}
