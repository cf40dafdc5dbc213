use std::collections::BTreeMap;

use domain::id::{
    ContactId, FindingId, InterlockDefeatId, PartLineId, QuoteId, TestRunId, VisitId, WaitingId, WorkOrderId,
};
use domain::vocabulary::Symptom;

use super::catalogue::Catalogue;
use crate::bench::{Seen, Test};
use crate::clock::Moment;
use crate::defect::Defect;
use crate::history::Code;
use crate::remedy::{PartKind, Remedy};

/// A work order as the company works on it.
pub(super) struct Job {
    pub id: WorkOrderId,
    pub unit: usize,
    pub contact: ContactId,
    pub contact_name: String,
    pub planned_work: bool,
    /// In which state the appliance is said to be.
    pub state: Code,
    pub appliance_known: bool,
    pub symptoms: Vec<Symptom>,
    pub urgent: bool,
    pub visits: u32,
    pub planned_visit: Option<VisitId>,
    pub visit: Option<VisitId>,
    pub technician: usize,
    /// How many actions have changed the machine so far.
    pub epoch: u32,
    pub quotes: u32,
    /// What the customer pays for so far, in hundredths.
    pub spent: i64,
    pub seen: Seen,
    pub faults: Vec<Fault>,
    pub ruled_out: Vec<Defect>,
    /// The first epoch in which a reading of the test failed.
    pub failed_in: BTreeMap<Test, u32>,
    /// The epoch of the last run of each test, and whether a reading of it failed.
    pub stands: BTreeMap<Test, (u32, bool)>,
    /// The last run of each test.
    pub runs: BTreeMap<Test, TestRunId>,
    /// A bridged interlock that nobody has restored yet.
    pub defeat: Option<InterlockDefeatId>,
    pub waiting: Option<WaitingId>,
    /// Quotes that the customer thinks about, with the fault that each is for.
    pub open_quotes: Vec<(QuoteId, usize)>,
    /// When the last of the ordered parts comes.
    pub parts_due: Option<Moment>,
    pub progress: Progress,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Progress {
    /// Nobody has been there yet.
    Open,
    UnderRepair,
    Closed,
}

/// One thing found, and how far its remedy has come.
pub(super) struct Fault {
    pub defect: Defect,
    pub finding: FindingId,
    pub remedy: Remedy,
    pub part_line: Option<PartLineId>,
    pub stage: Stage,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stage {
    /// Nothing stands in the way.
    Ready,
    AwaitsApproval,
    AwaitsPart,
    PartSetAside,
    Done,
    /// Somebody else's trade.
    Referred,
    Declined,
}

impl Fault {
    pub fn part<'a>(&self, catalogue: &'a Catalogue, design: usize) -> Option<&'a crate::history::Part> {
        self.remedy.part.and_then(|kind: PartKind| catalogue.part(kind, design))
    }
}

impl Job {
    pub fn new(id: WorkOrderId, unit: usize, contact: (ContactId, String), technician: usize) -> Self {
        Self {
            id,
            unit,
            contact: contact.0,
            contact_name: contact.1,
            planned_work: false,
            state: "up",
            appliance_known: true,
            symptoms: Vec::new(),
            urgent: false,
            visits: 0,
            planned_visit: None,
            visit: None,
            technician,
            epoch: 0,
            quotes: 0,
            spent: 0,
            seen: Seen::default(),
            faults: Vec::new(),
            ruled_out: Vec::new(),
            failed_in: BTreeMap::new(),
            stands: BTreeMap::new(),
            runs: BTreeMap::new(),
            defeat: None,
            waiting: None,
            open_quotes: Vec::new(),
            parts_due: None,
            progress: Progress::Open,
        }
    }

    pub fn awaits(&self, stage: Stage) -> bool {
        self.faults.iter().any(|fault| fault.stage == stage)
    }
}

/// What is due at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Task {
    Call {
        unit: usize,
    },
    Visit {
        job: usize,
    },
    Approval {
        job: usize,
    },
    Parts {
        job: usize,
    },
    PlanService {
        site: usize,
    },
    /// The building's trade has been.
    Restore {
        site: usize,
        defect: Defect,
    },
    Water {
        site: usize,
    },
}
