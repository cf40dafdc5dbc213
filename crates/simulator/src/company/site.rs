use std::collections::BTreeMap;
use std::sync::Arc;

use domain::id::{ApplianceId, ContactId, FittedPartId, PersonId, SiteId, StoreId, WorkOrderId};
use domain::text::Text;
use domain::vocabulary::{Position, Symptom};

use crate::ageing::Pace;
use crate::clock::Moment;
use crate::defect::Severities;
use crate::kitchen::Kitchen;
use crate::people::{Habits, cook};
use crate::physics::{Design, Machine, Performance};
use crate::random::Random;

/// One kitchen with the people who call from it.
pub(super) struct Site {
    pub id: SiteId,
    pub kitchen: Kitchen,
    pub contacts: Vec<(ContactId, String)>,
    pub has_contract: bool,
    pub units: std::ops::Range<usize>,
    /// The trade that mends the building has been told.
    pub referred: bool,
}

/// One machine.
pub(super) struct Unit {
    pub id: ApplianceId,
    pub site: usize,
    pub design: usize,
    pub machine: Machine,
    pub severities: Severities,
    pub pace: Pace,
    pub installed: Moment,
    pub warranty_until: Moment,
    pub open_job: Option<usize>,
    pub last_closed: Option<(Moment, WorkOrderId)>,
    /// Somebody calls when the annoyance since the last call has used this up.
    pub patience: f64,
    pub complaints: Vec<(Symptom, f64)>,
    pub annoyance_a_day: f64,
    pub filled: f64,
    pub fitted: BTreeMap<Position, FittedPartId>,
    /// Somebody works on it until then.
    pub busy_until: Moment,
}

impl Unit {
    /// Looks anew at what the machine does; after whatever changed it.
    pub fn look(&mut self, kitchen: &Kitchen) {
        for &defect in crate::defect::Defect::ALL {
            if defect.is_of_the_kitchen() && self.machine.design.may_have(defect) {
                self.severities.set(defect, kitchen.building[defect]);
            }
        }
        let surroundings = kitchen.usual_surroundings();
        let felt = self.severities.felt();
        let performance = Performance::of(&self.machine, &felt, &surroundings);
        self.filled = performance.filled;
        self.complaints = cook::complaints(&performance, &felt, &self.machine);
        self.annoyance_a_day =
            kitchen.kind.attention * self.complaints.iter().map(|(_, chance)| chance).sum::<f64>();
    }

    pub fn age_years(&self, now: Moment) -> f64 {
        (now - self.installed) as f64 / crate::clock::DAY as f64 / crate::clock::YEAR_DAYS
    }

    pub fn made(
        id: ApplianceId,
        site: usize,
        designs: &[Arc<Design>],
        design: usize,
        installed: Moment,
        random: &mut Random,
    ) -> Self {
        Self {
            id,
            site,
            design,
            machine: Machine::made(designs[design].clone(), random),
            severities: Severities::default(),
            pace: Pace::drawn(random),
            installed,
            warranty_until: installed + 2 * 365 * crate::clock::DAY,
            open_job: None,
            last_closed: None,
            patience: random.exponential(),
            complaints: Vec::new(),
            annoyance_a_day: 0.0,
            filled: 1.0,
            fitted: BTreeMap::new(),
            busy_until: installed,
        }
    }
}

pub(super) struct Technician {
    pub id: PersonId,
    pub van: StoreId,
    pub habits: Habits,
    /// He is on a job, or on his way from one, until then.
    pub busy_until: Moment,
    pub device: Text<1, 100>,
    pub sequence: u64,
}
