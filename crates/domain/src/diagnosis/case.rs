//! What is known of one case: the complaint, the answers of the intake, what was read since the last
//! action, and what was found before it.

mod gathering;

pub(super) use gathering::LEVEL_BEFORE;
pub use gathering::{Gathered, Intake, RunReadings, Standing, gather};

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::danger::Danger;
use crate::equipment::ObservationKey;
use crate::id::TestRunId;
use crate::text::Key;
use crate::vocabulary::Symptom;

/// The input of a diagnosis, in canonical units. Readings of different epochs do not mix: what an
/// earlier epoch told comes in as findings.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Case {
    /// The complaint for which the call was made; `None` if nobody complained, as on a planned visit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub complaint: Option<Symptom>,
    /// Readings and answers in the order in which they were taken.
    #[serde(default)]
    pub observations: Vec<Observation>,
    #[serde(default)]
    pub findings: Vec<PriorFinding>,
    /// Procedures carried out in this epoch.
    #[serde(default)]
    pub done: BTreeSet<Key>,
    /// Water was let into or out of the machine, or electrics were open beside it.
    #[serde(default)]
    pub wet_work: bool,
    /// Procedures in which something failed before the last action: read again whatever they may tell, as the proof asks.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub failed_before: BTreeSet<Key>,
    /// How many actions came before.
    #[serde(default)]
    pub epoch: u32,
    /// Dangers that stand beside what is told and read here: those told of in the call, read in an earlier epoch, or
    /// for which the machine is under stop-use.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub dangers: BTreeSet<Danger>,
    /// How high the kitchen lies above the sea, m, if somebody said so: water boils there at less than 100 °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub altitude_m: Option<f64>,
}

/// One reading, look or answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Observation {
    /// The run that it comes from, so that an explanation can point to it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_run: Option<TestRunId>,
    pub key: ObservationKey,
    pub seen: Observed,
    /// UCUM code of the unit in which it was read; the value here is canonical.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    #[serde(default)]
    pub conditions: ReadingConditions,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Observed {
    Value(Number),
    /// Still running when stopped, a full bucket, the gauge's upper end.
    AtLeast(Number),
    AtMost(Number),
    Choice(Key),
}

/// In the canonical unit of the quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Number {
    pub value: f64,
    /// Standard uncertainty, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<f64>,
}

/// Under what conditions it was read, where they change what is to be expected.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReadingConditions {
    /// In the sump when the wash run began, L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level_before_l: Option<f64>,
    /// Length of the wash run, s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub run_s: Option<f64>,
    /// Length of the timed call of water, s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub call_s: Option<f64>,
    /// Volume of the bucket, L.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bucket_l: Option<f64>,
    /// Temperature at which the heating began, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_temperature_cel: Option<f64>,
    /// A state without which the reading means nothing was not confirmed: that the sump was empty before it
    /// was filled, that it was full before it was drained.
    #[serde(default, skip_serializing_if = "is_false")]
    pub unconfirmed: bool,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_false(value: &bool) -> bool {
    !*value
}

/// What was found of a fault before this epoch began.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PriorFinding {
    pub fault: Key,
    pub state: FoundState,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FoundState {
    /// It was found and still stands.
    Stands,
    /// It was found and mended.
    Mended,
    /// It was looked for and not found.
    Absent,
}

impl Observation {
    pub fn value(key: ObservationKey, value: f64) -> Self {
        Self::new(key, Observed::Value(Number { value, uncertainty: None }))
    }

    pub fn at_least(key: ObservationKey, value: f64) -> Self {
        Self::new(key, Observed::AtLeast(Number { value, uncertainty: None }))
    }

    pub fn choice(key: ObservationKey, choice: Key) -> Self {
        Self::new(key, Observed::Choice(choice))
    }

    pub fn new(key: ObservationKey, seen: Observed) -> Self {
        Self { test_run: None, key, seen, unit: None, conditions: ReadingConditions::default() }
    }

    #[must_use]
    pub fn under(self, conditions: ReadingConditions) -> Self {
        Self { conditions, ..self }
    }
}
