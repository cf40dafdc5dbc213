//! What was read: test runs as phones send them, checked against their procedure. Nothing here is ever
//! changed; a correction supersedes the whole run, and a retraction is a superseding run without
//! readings, with its reason.

mod doubt;
mod instrument;
mod order;
mod reading;
mod validation;

pub use doubt::Doubt;
pub use instrument::{Accuracy, Calibration, Instrument, InstrumentKind};
pub use order::current;
pub use reading::{Censored, Measured, Reading, Repeats, Series};

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::equipment::Model;
use crate::id::{ApplianceId, InterlockDefeatId, TestRunId, VisitId, WorkOrderId};
use crate::procedure::{Procedure, ProcedureVersion};
use crate::text::{Key, Text, Words};
use crate::time::Timestamp;
use crate::violation::Violation;

/// One carrying out of one version of a procedure on one appliance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestRun {
    pub id: TestRunId,
    pub appliance: ApplianceId,
    #[serde(default)]
    pub work_order: Option<WorkOrderId>,
    #[serde(default)]
    pub visit: Option<VisitId>,
    pub procedure: ProcedureVersion,
    pub phase: Phase,
    /// How many actions had changed the machine on this order before the run. Epochs never mix.
    pub epoch: u32,
    pub device_id: Text<1, 100>,
    /// Counts up on the device; tells the order of its runs even if its clock was set.
    pub sequence: u64,
    /// As the device's clock said, corrected.
    pub taken_at: Timestamp,
    #[serde(default)]
    pub conditions: Conditions,
    #[serde(default)]
    pub readings: Vec<Reading>,
    /// Steps that were not done, each with its reason.
    #[serde(default)]
    pub not_tested: BTreeMap<Key, Words>,
    /// The recorded defeat under which a step that needs one was done.
    #[serde(default)]
    pub interlock_defeat: Option<InterlockDefeatId>,
    #[serde(default)]
    pub supersedes: Option<TestRunId>,
    #[serde(default)]
    pub retraction_reason: Option<Words>,
}

crate::word_list! {
    /// When in the course of a job a run was taken. Variants stand in the order of the work.
    pub enum Phase {
        /// Outside a repair: a planned visit, an installation.
        Baseline = "baseline",
        BeforeRepair = "before_repair",
        /// Between two actions.
        DuringRepair = "during_repair",
        /// As proof.
        AfterRepair = "after_repair",
    }
}

/// What held while the run was taken, as far as it was read.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Conditions {
    /// Gauge pressure at the tap before the inlet strainer, during the run's own flow.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dynamic_pressure: Option<Measured>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_temperature: Option<Measured>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supply_voltage: Option<Measured>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub door_closed: Option<bool>,
    /// The states that the procedure asks the technician to confirm.
    #[serde(default)]
    pub confirmed: BTreeSet<Key>,
}

impl TestRun {
    pub fn reading(&self, step: &Key) -> Option<&Reading> {
        self.readings.iter().find(|reading| reading.step == *step)
    }

    /// Everything that is wrong with the run, each with a JSON Pointer into it, given the procedure
    /// that it names and the appliance's model.
    pub fn validate(&self, procedure: &Procedure, model: &Model) -> Result<(), Vec<Violation>> {
        validation::validate(self, procedure, model)
    }

    /// What in a valid run is possible and hardly true, given the procedure that it names.
    pub fn doubts(&self, procedure: &Procedure) -> Vec<Doubt> {
        doubt::doubts(self, procedure)
    }
}
