//! What was truly wrong, for judging diagnoses; the history does not contain it.

use std::sync::Arc;

use domain::id::{ApplianceId, WorkOrderId};
use domain::time::Timestamp;

use crate::bench::{Bench, Seen, Taken, Test};
use crate::defect::{Defect, Severities};
use crate::history::Code;
use crate::people::Habits;
use crate::physics::{Design, Machine, Surroundings};
use crate::random::Random;

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
    /// By which it can be taken again.
    pub kitchen: Option<Kitchen>,
}

/// The machine where it stands, with the technician who reads it.
#[derive(Debug, Clone, PartialEq)]
pub struct Kitchen {
    pub machine: Machine,
    pub severities: Severities,
    pub surroundings: Surroundings,
    pub habits: Habits,
}

impl Kitchen {
    /// The whole checklist, as it reads once the faults of these keys are mended.
    pub fn checklist(&self, is_mended: impl Fn(Code) -> bool, random: &mut Random) -> Vec<Taken> {
        let mut left = self.severities.clone();
        for &defect in Defect::ALL {
            if is_mended(self.machine.design.fault_key(defect)) {
                left.set(defect, 0.0);
            }
        }
        let mut bench = Bench {
            machine: &self.machine,
            severities: &left.felt(),
            surroundings: self.surroundings,
            habits: &self.habits,
            random,
            seen: &mut Seen::default(),
            flow_meter: false,
            second_person: false,
        };
        let tests = Test::ALL.into_iter().filter(|test| test.applies_to(&self.machine));
        tests.map(|test| bench.take(test)).collect()
    }
}

impl CallTruth {
    /// What a technician who looked everywhere would call faults, as the catalogue names them, with
    /// their severities.
    pub fn faults(&self) -> Vec<(Code, f64)> {
        let named = |defect| (self.design.fault_key(defect), self.severities[defect]);
        self.severities.noticeable().map(named).collect()
    }
}
