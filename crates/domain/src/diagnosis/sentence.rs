//! A diagnosis in plain words, one sentence for each thing that it says.

use std::fmt::Write as _;

use super::answer::{
    Diagnosis, Expected, ExplainedReading, LookAlikes, Note, RankedFault, RankedSet, ReadAs,
};
use super::evidence::{Repeats, SetAside};
use super::next_test::{Advice, TestAdvice, TestToDo};
use super::parts::PartAdvice;
use crate::equipment::ObservationKey;
use crate::procedure::Precondition;
use crate::text::Key;

impl Diagnosis {
    /// What stands most probably, and what to make of it.
    pub fn sentence(&self) -> String {
        let first = self.sets.first().map_or_else(String::new, |set| self.sentence_of_set(set));
        let loud = self.notes.iter().filter(|note| !matches!(note, Note::NeverConsidered { .. }));
        let mut text = loud.map(|note| self.sentence_of_note(note)).collect::<Vec<_>>();
        text.push(first);
        text.join(" ")
    }

    pub fn sentence_of_set(&self, set: &RankedSet) -> String {
        let probability = Percent(set.probability);
        if set.is_empty() {
            return format!("With {probability} nothing is wrong, neither with the machine nor outside it.");
        }
        let mut inside: Vec<String> = set.faults.iter().map(|fault| self.title(fault)).collect();
        inside.extend(set.other_in.iter().map(|subsystem| {
            let subsystem = format!("{subsystem:?}").to_lowercase();
            format!("something in the {subsystem} that the catalogue does not describe")
        }));
        let outside: Vec<String> = set.external_states.iter().map(|state| self.title(state)).collect();
        let mut text = match inside.len() {
            0 => format!("With {probability} the machine is sound"),
            1 if outside.is_empty() => format!("With {probability} one thing is wrong: {}", inside[0]),
            1 => format!("With {probability} this is wrong with the machine: {}", inside[0]),
            _ => format!("With {probability} these are wrong together: {}", inside.join("; ")),
        };
        if !outside.is_empty() {
            let _ = write!(text, "; outside the machine: {}", outside.join("; "));
        }
        text.push('.');
        text
    }

    /// What it needs tells from this alone.
    pub fn sentence_of_note(&self, note: &Note) -> String {
        match note {
            Note::NothingRead => {
                "Nothing was read yet: this rests on the complaint, the answers and how often \
                faults arise."
                    .to_owned()
            }
            Note::NothingKnown => {
                "Neither complaint nor answers nor readings: this is only how often faults arise.".to_owned()
            }
            Note::Contradiction { keys } => {
                format!("These readings contradict each other; repeat them: {}.", self.readings_called(keys))
            }
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
            "No test of this model tells these apart; at least one of them stands with {}: {}.",
            Percent(alike.probability),
            titles.join("; ")
        )
    }

    /// What to do next, or that nothing more is worth testing.
    pub fn sentence_of_advice(&self) -> String {
        let mut text = match &self.next.advice {
            Advice::Test(test) => {
                let aim = self
                    .next
                    .tests
                    .iter()
                    .find(|advice| advice.is_worth_it() && advice.order.first() == Some(&test.procedure));
                let mut text = format!("Next: {}, {} min", test.title, Minutes(test.minutes));
                match aim {
                    Some(aim) if aim.order.len() > 1 => {
                        let _ = write!(
                            text,
                            ", which {} needs; together {} min, {}",
                            aim.to_do.title,
                            Minutes(aim.minutes),
                            aim.saves()
                        );
                    }
                    Some(aim) => {
                        let _ = write!(text, ", {}", aim.saves());
                    }
                    None => {}
                }
                text.push('.');
                text
            }
            Advice::NothingMoreIsWorthTesting => {
                "Stop: nothing more is worth testing; no test is expected to save the minutes that it takes."
                    .to_owned()
            }
        };
        if !self.next.mandatory.is_empty() {
            let due: Vec<&str> = self.next.mandatory.iter().map(|test| test.title.as_str()).collect();
            let _ = write!(text, " Due in any case before the job ends: {}.", due.join("; "));
        }
        text
    }

    fn title(&self, key: &Key) -> String {
        let known = self.faults.iter().chain(&self.external_states).find(|fault| fault.fault == *key);
        known.map_or_else(|| words(key.as_str()), |fault| fault.title.to_string())
    }

    fn readings_called(&self, keys: &[ObservationKey]) -> String {
        let called = keys.iter().map(|key| {
            let known = self.readings.iter().find(|reading| reading.key == *key);
            known.map_or_else(|| key.to_string(), |reading| reading.title.clone())
        });
        called.collect::<Vec<_>>().join("; ")
    }
}

impl RankedFault {
    pub fn sentence(&self) -> String {
        let mut text = format!(
            "{}: {}; remedy: {}",
            self.title,
            Percent(self.probability),
            words(&self.action.to_string())
        );
        if !self.parts.is_empty() {
            let parts: Vec<String> = self.parts.iter().map(|part| words(part.as_str())).collect();
            let _ = write!(text, ", with {}", parts.join(" and "));
        }
        text.push('.');
        text
    }
}

impl ExplainedReading {
    /// Predicted against read.
    pub fn sentence(&self) -> String {
        let unit =
            if self.unit.is_empty() || self.unit == "1" { String::new() } else { format!(" {}", self.unit) };
        let number = |value: f64| Number(value).to_string();
        let read = match &self.read {
            ReadAs::Value(value) => format!("{}{unit}", number(*value)),
            ReadAs::AtLeast(value) => format!("at least {}{unit}", number(*value)),
            ReadAs::AtMost(value) => format!("at most {}{unit}", number(*value)),
            ReadAs::Between(low, high) => {
                format!("judged between {} and {}{unit}", number(*low), number(*high))
            }
            ReadAs::Choice(choice) => words(choice.as_str()),
        };
        let expected = match &self.expected {
            Expected::Range { low, high, .. } => format!("{} to {}{unit}", number(*low), number(*high)),
            Expected::NoValue => "nothing to read".to_owned(),
            Expected::Choices(choices) => {
                let best = choices.iter().max_by(|a, b| a.1.total_cmp(&b.1));
                best.map_or_else(String::new, |(choice, p)| {
                    format!("{} ({})", words(choice.as_str()), Percent(*p))
                })
            }
            Expected::Anything => "anything".to_owned(),
        };
        let under = "under the most probable set";
        if self.unexplained {
            format!(
                "{}: read {read}, expected {expected} {under}. Nothing explains it: misread with {}; read it again.",
                self.title,
                Percent(self.misread)
            )
        } else {
            format!(
                "{}: read {read}, expected {expected} {under}; misread with {}.",
                self.title,
                Percent(self.misread)
            )
        }
    }
}

impl TestAdvice {
    pub fn sentence(&self) -> String {
        let mut text = format!("{}: {} min", self.to_do.title, Minutes(self.minutes));
        if self.order.len() > 1 {
            let before: Vec<String> =
                self.order[..self.order.len() - 1].iter().map(|test| words(test.as_str())).collect();
            let _ = write!(text, " with what must come before it ({})", before.join(", "));
        }
        let worth = if self.is_worth_it() { "worth it" } else { "not worth it" };
        let _ = write!(text, ", {}; {worth}.", self.saves());
        text
    }

    /// Doubt is counted among what is saved, so that it can be far more than a visit takes.
    fn saves(&self) -> String {
        format!(
            "expected to save {} min of second journeys, needless parts and doubt",
            Minutes(self.saves_minutes)
        )
    }
}

impl TestToDo {
    pub fn sentence(&self) -> String {
        let mut text = format!("{}: {} min", self.title, Minutes(self.minutes));
        if !self.skills.is_empty() {
            let skills: Vec<String> = self.skills.iter().map(|skill| words(skill.as_str())).collect();
            let _ = write!(text, "; only who holds: {}", skills.join(", "));
        }
        if self.defeats_interlock {
            text.push_str("; opens an interlock: a second person, a time limit, the removal recorded");
        }
        text.push('.');
        text
    }

    /// What must hold before it, in words.
    pub fn preconditions_in_words(&self) -> Vec<String> {
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
        self.preconditions.iter().map(in_words).collect()
    }
}

impl PartAdvice {
    pub fn sentence(&self) -> String {
        format!(
            "{}: needed with {}; with it and those above, the next visit can end the job with {}.",
            words(self.part.as_str()),
            Percent(self.needed),
            Percent(self.ends_job)
        )
    }
}

impl SetAside {
    pub fn sentence(&self) -> String {
        format!("{} is set aside: {}.", self.key, self.reason)
    }
}

impl Repeats {
    pub fn sentence(&self) -> String {
        let count = self.observations.len();
        let but = if self.disagree { ", and they differ by more than their uncertainty" } else { "" };
        format!("{} was read {count} times, which counts as one reading{but}.", self.key)
    }
}

fn words(key: &str) -> String {
    key.replace('_', " ")
}

/// A probability as people say it, never as certain.
struct Percent(f64);

impl std::fmt::Display for Percent {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let percent = self.0 * 100.0;
        if percent > 99.0 {
            formatter.write_str("more than 99 % probability")
        } else if percent < 1.0 {
            formatter.write_str("less than 1 % probability")
        } else {
            write!(formatter, "{percent:.0} % probability")
        }
    }
}

struct Minutes(f64);

impl std::fmt::Display for Minutes {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.0 > 0.0 && self.0 < 1.0 {
            formatter.write_str("less than 1")
        } else {
            write!(formatter, "{:.0}", self.0)
        }
    }
}

/// With three significant digits at least, and no more than its size makes sense of.
struct Number(f64);

impl std::fmt::Display for Number {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let decimals = match self.0.abs() {
            size if size >= 100.0 => 0,
            size if size >= 10.0 => 1,
            size if size >= 0.1 || size == 0.0 => 2,
            _ => 4,
        };
        write!(formatter, "{:.decimals$}", self.0)
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
                value("fill_time/fill_time", 31.97),
                value("start_up_catch/caught", 1.061),
                choice("wash_flow_hold/strength", "strong").under(full),
                value("wash_flow_hold/hold_time", 2.0).under(full),
            ],
        );
        let diagnosis = diagnose(&COMBI, &case);
        let said = diagnosis.sentence();
        assert!(said.contains("these are wrong together") && said.contains("Fill valve weak"), "{said}");
        let fill = diagnosis.readings.iter().find(|reading| reading.key.as_str() == "fill_time/fill_time");
        let said = fill.unwrap().sentence();
        assert!(said.starts_with("Time to full: read 32.0 s, expected "), "{said}");
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
