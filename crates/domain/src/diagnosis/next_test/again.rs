//! Do it and read again: what takes a few minutes and no part, and lets a reading be taken anew that something else
//! reads through. A strainer turned the right way round, and the fill timed again, tells of the valve what no other
//! test tells.

use serde::{Deserialize, Serialize};

use super::outcomes::Outlook;
use super::step::{ToTake, cautions_at, is_done};
use super::{Mend, StepToRead, TestToDo};
use crate::diagnosis::case::{Case, Observation};
use crate::diagnosis::circuit::Circuit;
use crate::diagnosis::contradiction;
use crate::diagnosis::hazard::{self, Hazard};
use crate::diagnosis::tables::{HypothesisKind, Tables};
use crate::equipment::{Fault, ObservationKey, Subsystem, Target};
use crate::procedure::Procedure;
use crate::text::Key;
use crate::vocabulary::{Action, Position};

/// Something to do, and what is read again after it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DoAndReadAgain {
    /// Of its own, such as `refit_inlet_strainer_and_read_again`.
    pub key: Key,
    /// What is done first, as an instruction.
    pub first: String,
    /// The fault that it mends, if it mends one.
    pub fault: Option<Key>,
    pub action: Option<Action>,
    /// What is read again, with its needs and its cautions; its minutes are those of the whole.
    pub read: TestToDo,
    /// What may be read, and what it would say.
    pub outcomes: Vec<Outcome>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Outcome {
    pub read: String,
    pub says: String,
}

/// What something else reads through must be in doubt: between these probabilities.
const IN_DOUBT: std::ops::Range<f64> = 0.1..0.9;
/// What no test tells apart is tried when it is one of these, as good as certainly.
const ENOUGH_TOGETHER: f64 = 0.9;
/// A remedy that takes longer is a repair, and not tried for a reading.
const LONGEST_MINUTES: f64 = 10.0;
/// A sump with less than this share of its water starves a good pump.
const FULL: f64 = 0.9;
/// Who reads one thing a third time and still disagrees with himself does not learn from a fourth.
const MOST_READINGS: usize = 2;

pub(in crate::diagnosis) fn advise(
    tables: &Tables,
    case: &Case,
    outlook: &Outlook,
    mend: &[Mend],
    hazards: &[Hazard],
) -> Option<DoAndReadAgain> {
    let again = Again { tables, case, outlook, hazards };
    again.contradicted().or_else(|| again.filled_to_the_mark()).or_else(|| again.mended(mend))
}

struct Again<'a, 'b, 'c> {
    tables: &'a Tables,
    case: &'a Case,
    outlook: &'a Outlook<'b, 'c>,
    hazards: &'a [Hazard],
}

impl Again<'_, '_, '_> {
    /// Readings that cannot all be right are taken again before anything rests on them.
    fn contradicted(&self) -> Option<DoAndReadAgain> {
        let found = contradiction::of_nature(self.tables, self.case)
            .into_iter()
            .chain(contradiction::of_repeats(self.tables, self.case));
        let keys = found.into_iter().find(|keys| {
            let count =
                |key: &ObservationKey| self.case.observations.iter().filter(|seen| seen.key == *key).count();
            keys.iter().all(|key| count(key) <= MOST_READINGS)
        })?;
        let first = keys.first()?;
        let read = self.to_read(&keys, 0.0)?;
        Some(DoAndReadAgain {
            key: key_of(&[first.procedure()])?,
            first: "Take these readings again, and see that each stands where it belongs".to_owned(),
            fault: None,
            action: None,
            read,
            outcomes: vec![
                outcome("they agree", "The one that differs was a slip: take it back, and go by the others."),
                outcome(
                    "they contradict each other again",
                    "It comes and goes, or the instrument is wrong: try another.",
                ),
            ],
        })
    }

    /// A pump that ran from a low sump was starved, whatever it can do.
    fn filled_to_the_mark(&self) -> Option<DoAndReadAgain> {
        let full = self.tables.circuit.full_l();
        let runs: Vec<(&Observation, f64)> = self
            .case
            .observations
            .iter()
            .filter_map(|seen| Some((seen, seen.conditions.level_before_l?)))
            .filter(|(seen, _)| self.reads(&seen.key).is_some_and(Circuit::depends_on_level))
            .collect();
        let starved = |level: f64| full > 0.0 && level < FULL * full;
        let (last, _) = runs.iter().find(|(_, level)| starved(*level))?;
        if runs.iter().any(|(_, level)| !starved(*level)) {
            return None;
        }
        let doubted =
            self.doubted(|fault| fault.subsystem == Subsystem::Wash && self.bears_on(fault, &last.key))?;
        let read = self.to_read(std::slice::from_ref(&last.key), 2.0)?;
        Some(DoAndReadAgain {
            key: Key::new("fill_to_the_mark_and_read_again").ok()?,
            first: "Fill the sump to the mark by hand".to_owned(),
            fault: None,
            action: None,
            read,
            outcomes: vec![
                outcome(
                    "it holds",
                    "It was starved: the pump is sound, and what fills or holds the sump is not.",
                ),
                outcome("it falls again", &format!("{doubted} stands, whatever is wrong with the fill.")),
            ],
        })
    }

    /// What is decided, quickly mended, and hides something else that is in doubt.
    fn mended(&self, mend: &[Mend]) -> Option<DoAndReadAgain> {
        // What is done only because it costs so little is looked at first, where a look tells.
        let decided = mend
            .iter()
            .filter(|mend| mend.probability >= 0.5)
            .filter_map(|mend| self.tables.catalogue.fault(mend.faults.first()?.as_str()));
        let tried = self.quick_look_alikes();
        for fault in decided.chain(tried) {
            let Some(minutes) = quick_minutes(fault) else { continue };
            for key in self.readings_of(fault) {
                let hidden = |other: &Fault| other.key != fault.key && self.bears_on(other, &key);
                let Some(doubted) = self.doubted(hidden) else { continue };
                let Some(mut read) = self.to_read(std::slice::from_ref(&key), minutes) else { continue };
                for caution in cautions_at(self.tables, fault.position) {
                    if !read.cautions.iter().any(|known| known.text == caution.text) {
                        read.cautions.push(caution);
                    }
                }
                let (verb, words) = instruction(fault);
                let position = fault.position.key();
                return Some(DoAndReadAgain {
                    key: key_of(&[verb, position])?,
                    first: words,
                    fault: Some(fault.key.clone()),
                    action: Some(fault.remedy.action),
                    read,
                    outcomes: vec![
                        outcome("it is as it should be", &format!("It was this alone: {}.", fault.title)),
                        outcome("it is as before, or little better", &format!("{doubted} stands as well.")),
                    ],
                });
            }
        }
        None
    }

    /// Faults that only their remedy tells from others: damp that is dried reads right, what is broken does not.
    fn quick_look_alikes(&self) -> impl Iterator<Item = &Fault> {
        let fault = |index: &usize| match self.tables.hypotheses[*index].kind {
            HypothesisKind::Fault(fault) => Some(&self.tables.catalogue.faults[fault]),
            HypothesisKind::Other => None,
        };
        let together = |group: &&Vec<usize>| {
            group.iter().map(|index| self.outlook.probability(*index)).sum::<f64>() >= ENOUGH_TOGETHER
        };
        let alike = self.tables.look_alikes.iter().filter(together).flatten();
        alike
            .filter(|index| self.outlook.probability(**index) > IN_DOUBT.start)
            .filter_map(fault)
            .filter(|fault| quick_minutes(fault).is_some())
    }

    /// The readings that were taken and on which a fault bears, the shortest test first.
    fn readings_of(&self, fault: &Fault) -> Vec<ObservationKey> {
        let mut keys: Vec<ObservationKey> = self
            .case
            .observations
            .iter()
            .map(|seen| &seen.key)
            .filter(|key| self.bears_on(fault, key) && self.procedure(key).is_some())
            .cloned()
            .collect();
        let minutes = |key: &ObservationKey| self.procedure(key).map_or(0.0, |of| of.minutes);
        keys.sort_by(|a, b| minutes(a).total_cmp(&minutes(b)).then_with(|| a.cmp(b)));
        keys.dedup();
        keys
    }

    /// The most probable of these faults, if it is in doubt.
    fn doubted(&self, is_meant: impl Fn(&Fault) -> bool) -> Option<&str> {
        let hypotheses = self.tables.hypotheses.iter().enumerate();
        let meant = hypotheses.filter_map(|(index, hypothesis)| match hypothesis.kind {
            HypothesisKind::Fault(fault) => Some((index, &self.tables.catalogue.faults[fault])),
            HypothesisKind::Other => None,
        });
        meant
            .filter(|(_, fault)| is_meant(fault))
            .map(|(index, fault)| (self.outlook.probability(index), fault))
            .filter(|(probability, _)| IN_DOUBT.contains(probability))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, fault)| fault.title.as_str())
    }

    fn reads(&self, key: &ObservationKey) -> Option<&crate::equipment::Reads> {
        self.tables.catalogue.measurements.iter().find(|of| of.key == *key).map(|of| &of.reads)
    }

    /// Whether a fault changes what is read: its own showing, or a parameter on which the prediction rests.
    fn bears_on(&self, fault: &Fault, key: &ObservationKey) -> bool {
        if fault.shows.iter().any(|shows| shows.at == *key && shows.probability >= IN_DOUBT.start) {
            return true;
        }
        let Some(reads) = self.reads(key) else { return false };
        let nodes = Circuit::depends_on(reads);
        let decides = |subsystem: Subsystem| {
            let tables = self.tables.subsystems.iter().find(|of| of.subsystem == subsystem);
            tables.is_some_and(|of| of.owns.iter().any(|(node, _)| nodes.contains(node)))
        };
        let is_own = matches!(reads, crate::equipment::Reads::Own { .. });
        fault.effects.iter().any(|effect| match &effect.on {
            Target::Measurement(measured) => measured == key,
            Target::Parameter(parameter) => {
                let subsystem = parameter.subsystem();
                !is_own && (subsystem == reads.subsystem() || decides(subsystem))
            }
        })
    }

    fn procedure(&self, key: &ObservationKey) -> Option<&Procedure> {
        let done = |of: &&Procedure| of.key.as_str() == key.procedure() && is_done(self.case, &of.key);
        let procedure = self.tables.procedures.iter().find(done)?;
        hazard::allow(self.hazards, procedure).then_some(procedure)
    }

    /// These steps once more, after so many minutes of doing something.
    fn to_read(&self, keys: &[ObservationKey], minutes: f64) -> Option<TestToDo> {
        let procedure = self.procedure(keys.first()?)?;
        let steps: Vec<_> = procedure
            .steps
            .iter()
            .filter(|step| {
                keys.iter()
                    .any(|key| key.procedure() == procedure.key.as_str() && key.step() == step.key.as_str())
            })
            .collect();
        let test = ToTake { procedure, only: Some(steps), minutes: procedure.minutes + minutes };
        Some(TestToDo::from(&test))
    }
}

impl DoAndReadAgain {
    /// The steps that are read again.
    pub fn steps(&self) -> &[StepToRead] {
        &self.read.only
    }
}

fn outcome(read: &str, says: &str) -> Outcome {
    Outcome { read: read.to_owned(), says: says.to_owned() }
}

fn key_of(words: &[&str]) -> Option<Key> {
    Key::new(format!("{}_and_read_again", words.join("_"))).ok()
}

/// How long a remedy takes that is tried for a reading: no part, and at most ten minutes. Common practice, no source,
/// where the catalogue does not say.
fn quick_minutes(fault: &Fault) -> Option<f64> {
    let remedy = &fault.remedy;
    let usual = match remedy.action {
        // Its part is needed only where it is broken or lost.
        Action::RefittedRightWay | Action::Reset => 2.0,
        _ if !remedy.parts.is_empty() => return None,
        Action::ExplainedUse | Action::Tightened | Action::Adjusted => 5.0,
        Action::Cleaned | Action::Cleared => 10.0,
        _ => return None,
    };
    // What shuts or leads water under pressure or grease is taken apart first.
    let is_opened =
        matches!(fault.position, Position::WashPump | Position::SteamGenerator | Position::FillValve);
    Some(remedy.minutes.unwrap_or(if is_opened { 30.0 } else { usual }))
        .filter(|minutes| *minutes <= LONGEST_MINUTES)
}

/// What is done, as a key and as an instruction.
fn instruction(fault: &Fault) -> (&'static str, String) {
    let thing = fault.position.key().replace('_', " ");
    match (fault.remedy.action, fault.position) {
        (Action::ExplainedUse, Position::ChemicalLoad) => {
            ("load", "Load the right chemical in its right place".to_owned())
        }
        (Action::ExplainedUse, _) => ("explain", format!("Show how it is used: {thing}")),
        (Action::RefittedRightWay, _) => ("refit", format!("Fit the {thing} the right way round")),
        (Action::Reset, _) => ("reset", format!("Reset the {thing}")),
        (Action::Tightened, _) => ("tighten", format!("Tighten the {thing}")),
        (Action::Adjusted, _) => ("adjust", format!("Set the {thing} right")),
        (Action::Cleared, _) => ("clear", format!("Clear the {thing}")),
        _ if fault.failure_mode == crate::vocabulary::FailureMode::LowInsulation => {
            ("dry", format!("Let the {thing} dry"))
        }
        _ => ("clean", format!("Clean the {thing}")),
    }
}
