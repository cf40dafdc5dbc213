//! What was truly wrong, for judging diagnoses; the history does not contain it.

use domain::id::{ApplianceId, WorkOrderId};
use domain::time::Timestamp;
use serde::Serialize;

use crate::bench::Taken;
use crate::defect::{Defect, Severities};
use crate::history::Code;

/// The machine behind a call, at the time of the call.
#[derive(Debug, Clone, PartialEq)]
pub struct CallTruth {
    pub work_order: WorkOrderId,
    pub appliance: ApplianceId,
    pub at: Timestamp,
    pub model: Code,
    /// What the dispatcher noted, and what was really there to be seen.
    pub symptoms: Vec<Code>,
    pub severities: Severities,
    /// The whole checklist as one technician would have taken it then, if the settings ask for cases.
    pub checklist: Vec<Taken>,
}

/// A defect and how bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Graded {
    pub defect: Defect,
    pub severity: f64,
}

impl CallTruth {
    /// What a technician who looked everywhere would call faults.
    pub fn faults(&self) -> Vec<Graded> {
        let graded = |defect| Graded { defect, severity: self.severities[defect] };
        self.severities.noticeable().map(graded).collect()
    }
}
