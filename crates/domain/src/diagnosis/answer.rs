//! What a diagnosis says.

use serde::{Deserialize, Serialize};

use super::evidence::{Repeats, SetAside};
use super::hazard::Hazard;
use super::next_test::NextTest;
use super::parts::PartsToCarry;
use crate::equipment::{ObservationKey, Subsystem};
use crate::text::{Key, Name};
use crate::vocabulary::{Action, FailureMode, Position, Symptom};

/// Ranked, calibrated and explained sets of faults, the next test, and the parts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Diagnosis {
    pub engine_version: u32,
    /// SHA-256 of the knowledge with which it was made.
    pub knowledge_sha256: String,
    /// SHA-256 of all it was made from: the same input gives the same answer.
    pub input_sha256: String,
    pub epoch: u32,
    /// Whole sets, most probable first.
    pub sets: Vec<RankedSet>,
    /// Each fault of the machine by itself, most probable first.
    pub faults: Vec<RankedFault>,
    /// States of the building and of the use, likewise.
    pub external_states: Vec<RankedFault>,
    /// P(no fault of the machine).
    pub machine_sound: f64,
    /// P(nothing at all: neither the machine nor building nor use).
    pub nothing_found: f64,
    /// P(something stands that nobody described).
    pub other: f64,
    pub readings: Vec<ExplainedReading>,
    /// Faults that no test of this model tells apart.
    pub look_alikes: Vec<LookAlikes>,
    pub next: NextTest,
    pub parts: PartsToCarry,
    /// What the reader must know before trusting the numbers.
    pub notes: Vec<Note>,
    pub set_aside: Vec<SetAside>,
    pub repeats: Vec<Repeats>,
}

/// A set of faults that would stand together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RankedSet {
    pub faults: Vec<Key>,
    pub external_states: Vec<Key>,
    /// Subsystems in which something stands that nobody described.
    pub other_in: Vec<Subsystem>,
    pub probability: f64,
}

impl RankedSet {
    pub fn is_empty(&self) -> bool {
        self.faults.is_empty() && self.external_states.is_empty() && self.other_in.is_empty()
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RankedFault {
    pub fault: Key,
    pub version: u32,
    pub title: Name,
    pub position: Position,
    pub failure_mode: FailureMode,
    pub probability: f64,
    pub action: Action,
    pub parts: Vec<Key>,
}

/// One reading, or several of the same thing, against what was to be expected.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExplainedReading {
    /// Indices into the case's observations.
    pub observations: Vec<usize>,
    pub key: ObservationKey,
    /// What the procedure calls it.
    pub title: String,
    /// UCUM code of the numbers here, the one in which it was read; empty for a choice.
    pub unit: String,
    pub read: ReadAs,
    /// Under the most probable set.
    pub expected: Expected,
    /// P(misread): that it is a slip of reading or writing.
    pub misread: f64,
    /// Misread with more than even odds under every leading set: nothing here explains it.
    pub unexplained: bool,
}

/// In the unit in which it was read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReadAs {
    Value(f64),
    AtLeast(f64),
    AtMost(f64),
    Between(f64, f64),
    Choice(Key),
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Expected {
    /// About 95 in 100 readings would lie between.
    Range { low: f64, middle: f64, high: f64 },
    /// Nothing would be read at all: no flow, no end.
    NoValue,
    /// Choices with their probabilities, as truly standing before the reading.
    Choices(Vec<(Key, f64)>),
    /// The set holds something that nobody described: anything may be read.
    Anything,
}

/// Faults whose readings would differ by less than 0.5 nat on the whole checklist.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LookAlikes {
    pub faults: Vec<Key>,
    /// P(at least one of them).
    pub probability: f64,
}

/// Something that limits the answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Note {
    /// A danger stands: nothing under power comes next.
    Danger { hazards: Vec<Hazard> },
    /// Nobody has said yet which machine it is: the answer is a mixture of what its kitchen has, with the
    /// probabilities of the models. Readings, next step and parts are those of the first.
    WhichMachine { models: Vec<(Key, f64)> },
    /// Nothing was read: the answer rests on the complaint and on how often faults arise.
    NothingRead,
    /// Neither complaint nor answers nor readings.
    NothingKnown,
    /// Readings that nature does not allow together, or that nothing explains together; one of them at least is
    /// wrong. A single one was read with values that cannot both be right.
    Contradiction { keys: Vec<ObservationKey> },
    /// No fault of the catalogue makes this complaint.
    ComplaintUnknown { complaint: Symptom },
    /// Readings that were taken for misread under every leading set.
    Unexplained { keys: Vec<ObservationKey> },
    /// Most probably something that nobody described.
    OutsideTheCatalogue { probability: f64 },
    /// Faults with a rate of zero, which are never considered.
    NeverConsidered { faults: Vec<Key> },
    /// Findings on faults that the catalogue does not have.
    UnknownFinding { faults: Vec<Key> },
    /// The readings are together too improbable to be computed with: the answer leaves them out.
    ReadingsLeftOut,
}
