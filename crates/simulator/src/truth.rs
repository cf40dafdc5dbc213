//! What was truly wrong, for judging diagnoses; the history does not contain it.

use std::sync::Arc;

use domain::id::{ApplianceId, WorkOrderId};
use domain::time::Timestamp;

use crate::bench::Taken;
use crate::defect::Severities;
use crate::history::Code;
use crate::physics::Design;

/// The machine behind a call, at the time of the call.
#[derive(Debug, Clone, PartialEq)]
pub struct CallTruth {
    pub work_order: WorkOrderId,
    pub appliance: ApplianceId,
    pub at: Timestamp,
    pub model: Code,
    pub design: Arc<Design>,
    /// What the dispatcher noted.
    pub symptoms: Vec<Code>,
    pub severities: Severities,
    /// Questions asked and answered, and the whole checklist as one technician would have taken it
    /// then, if the settings ask for cases.
    pub intake: Vec<(Code, Code)>,
    pub checklist: Vec<Taken>,
}

impl CallTruth {
    /// What a technician who looked everywhere would call faults, as the catalogue names them, with
    /// their severities.
    pub fn faults(&self) -> Vec<(Code, f64)> {
        let named = |defect| (self.design.fault_key(defect), self.severities[defect]);
        self.severities.noticeable().map(named).collect()
    }
}
