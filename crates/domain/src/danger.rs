//! Dangers at a machine: what tells of them, which stand, and what a look must show before somebody says that one is
//! over. The one place for it: gates ask here before a machine is released, advice before it names a test that is
//! done under power.
//!
//! What tells of a danger and what answers it is data of the procedures: a choice or a value beyond its limit is a
//! *sign* (`signals`), a step that looks for a danger *answers* it when it reads healthy (`looks_for`).

mod look;
mod release;

pub use look::{Sign, answered_by, looks, signs};
pub use release::{Unreleased, unreleased};

use std::collections::BTreeSet;

use crate::equipment::Model;
use crate::evidence::{TestRun, current};
use crate::procedure::Procedure;
use crate::vocabulary::Symptom;
use crate::word_list;

word_list! {
    /// What may hurt somebody, as a caller tells it or a reading shows it.
    pub enum Danger {
        Gas = "gas",
        /// Water on electrics, insulation lost, a part under voltage.
        Electric = "electric",
        Caustic = "caustic",
        /// It trips a breaker or a residual-current device.
        Tripping = "tripping",
        /// Somebody felt it: the body of the machine may be live.
        Tingle = "tingle",
        /// A safeguard that does not guard: bridged, held by a magnet, or failed, so that a pump runs with the door open.
        DefeatedInterlock = "defeated_interlock",
    }
}

impl Danger {
    /// The skill or licence that somebody must hold to say that the danger is over (common practice, no source; local
    /// codes prevail). Caustic water takes none beyond a technician's.
    pub const fn skill(self) -> Option<&'static str> {
        match self {
            Self::Gas => Some("gas"),
            Self::Electric | Self::Tripping | Self::Tingle | Self::DefeatedInterlock => Some("electrical"),
            Self::Caustic => None,
        }
    }

    /// The danger in words, as a part of a sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Gas => "smell of gas",
            Self::Electric => "water on electrics or lost insulation",
            Self::Caustic => "caustic water",
            Self::Tripping => "a protection that trips",
            Self::Tingle => "a machine that tingles when touched",
            Self::DefeatedInterlock => "an interlock that does not guard",
        }
    }
}

/// The danger of which a caller tells with a symptom, whether or not somebody ticked it.
pub const fn told_by(symptom: Symptom) -> Option<Danger> {
    match symptom {
        Symptom::TripsSupply => Some(Danger::Tripping),
        _ => None,
    }
}

/// All that speaks of dangers at one machine in one job.
#[derive(Debug, Clone, Copy)]
pub struct Signs<'a> {
    /// Those for which the machine stands under stop-use. They stand until it is released, whatever is read.
    pub stopped: &'a BTreeSet<Danger>,
    /// Those that the call told of.
    pub told: &'a BTreeSet<Danger>,
    /// Of the complaint.
    pub symptoms: &'a [Symptom],
    /// In any order; what was superseded or retracted does not count.
    pub runs: &'a [TestRun],
    /// The procedures that the runs name, and all that look for a danger.
    pub procedures: &'a [Procedure],
    pub model: &'a Model,
}

/// Which dangers stand now. Once one does, nothing under power is advised ([`Procedure::powered`]),
/// but isolation is, and what can be looked at dead.
///
/// What was told stands until every procedure that looks for it was read healthy. What was read stands until the same
/// step is read without it.
pub fn standing(of: &Signs<'_>) -> BTreeSet<Danger> {
    let told = of.told.iter().copied().chain(of.symptoms.iter().copied().filter_map(told_by));
    let current = current(of.runs);
    let is_over = |danger: Danger| {
        let mut looks = looks(danger, of.procedures, of.model).peekable();
        looks.peek().is_some()
            && looks.all(|look| {
                let last = current.iter().rev().find(|run| run.procedure.key == look.key);
                last.is_some_and(|run| answered_by(run, look, of.model, danger))
            })
    };
    let mut standing: BTreeSet<Danger> = told.filter(|danger| !is_over(*danger)).collect();
    standing.extend(read_in(&current, of));
    standing.extend(of.stopped);
    standing
}

/// The dangers that the last reading of some step tells of.
fn read_in(current: &[&TestRun], of: &Signs<'_>) -> BTreeSet<Danger> {
    let mut seen = BTreeSet::new();
    let mut dangers = BTreeSet::new();
    for run in current.iter().rev() {
        let Some(procedure) = of.procedures.iter().find(|procedure| procedure.id() == run.procedure) else {
            continue;
        };
        let signs = signs(run, procedure, of.model);
        for reading in &run.readings {
            if seen.insert((&run.procedure.key, &reading.step)) {
                dangers
                    .extend(signs.iter().filter(|sign| *sign.step == reading.step).map(|sign| sign.danger));
            }
        }
    }
    dangers
}

#[cfg(test)]
mod tests;
