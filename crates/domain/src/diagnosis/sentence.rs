//! A diagnosis in plain words, one sentence for each thing that it says.

mod advice;
mod figures;
mod plain;
mod reading;
mod statement;

use std::fmt::Write as _;

use super::answer::{Diagnosis, LookAlikes, Note, RankedFault, RankedSet};
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
            let subsystem = format!("{subsystem:?}").to_lowercase();
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
}

impl RankedFault {
    pub fn sentence(&self) -> String {
        let mut text =
            format!("{}: {}; remedy: {}", self.title, Percent(self.probability), words(self.action.key()));
        if !self.parts.is_empty() {
            let parts: Vec<String> = self.parts.iter().map(|part| words(part.as_str())).collect();
            let _ = write!(text, ", with {}", parts.join(" and "));
        }
        text.push('.');
        text
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{COMBI, choice, complaint, from_level, value};
    use super::super::{Case, Note, diagnose};
    use crate::vocabulary::Symptom;

    #[test]
    fn a_weak_valve_and_a_fading_pump_are_said_in_plain_words() {
        let full = from_level(2.9);
        let case = complaint(
            Symptom::DoesNotClean,
            vec![
                value("inlet_pressure/static_pressure", 3.0),
                value("inlet_pressure/dynamic_pressure", 2.973),
                choice("strainer_look/inlet_strainer", "clear"),
                choice("strainer_look/valve_strainer", "clear"),
                value("fill_time/fill_time", 31.97),
                value("start_up_catch/caught", 1.061),
                choice("wash_flow_hold/strength", "strong").under(full),
                value("wash_flow_hold/hold_time", 2.0).under(full),
            ],
        );
        let diagnosis = diagnose(&COMBI, &case);
        let said = diagnosis.sentence();
        assert!(said.starts_with("Sure: ") && said.contains("Fill valve weak"), "{said}");
        let fill = diagnosis.readings.iter().find(|reading| reading.key.as_str() == "fill_time/fill_time");
        let said = fill.unwrap().sentence();
        assert!(said.starts_with("Time to full: 32.0 s was read, "), "{said}");
        assert!(diagnosis.sentence_of_advice().contains("Due in any case"));
        for test in &diagnosis.next.tests {
            assert!(!test.to_do.cautions.is_empty(), "{} is advised without a caution", test.procedure);
        }
    }

    #[test]
    fn where_nothing_is_known_it_says_so_first() {
        let said = diagnose(&COMBI, &Case::default());
        assert!(said.notes.contains(&Note::NothingKnown));
        assert!(said.sentence().starts_with("Neither complaint"), "{}", said.sentence());
    }
}
