use std::collections::BTreeSet;

use super::visit::{VisitState, VisitTimes};
use super::{ApplianceState, OrderKind, OrderState, PartLineState, Waived};
use crate::text::Key;

/// Everything about an order that its moves depend on, as it stands at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Situation {
    pub kind: OrderKind,
    pub state: OrderState,
    /// The appliance's state; none while it is not confirmed which appliance it is.
    pub appliance: Option<ApplianceState>,
    pub symptoms: usize,
    pub visits: Vec<VisitTimes>,
    pub has_restoration_time: bool,
    /// Whether any action taken changed the machine.
    pub machine_changed: bool,
    /// Fitted part lines that no action taken names: no epoch began with them.
    pub fitted_without_action: usize,
    /// Positions whose last action is a stopgap.
    pub stopgaps: Vec<Key>,
    pub part_lines: Vec<PartLineState>,
    pub open_interlock_defeats: usize,
    pub proof: Proof,
    pub waived: BTreeSet<Waived>,
}

/// What the readings of the current epoch prove: those taken after the last action that changed the
/// machine.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Proof {
    /// Procedures in which something failed in an earlier epoch.
    pub failed_before: BTreeSet<Key>,
    /// Procedures that were taken in the current epoch.
    pub taken_after: BTreeSet<Key>,
    /// Of those, the ones in which something fails still.
    pub failing_after: BTreeSet<Key>,
    /// The last full cycle of the current epoch ran to its end, cleaned and kept its water.
    pub full_cycle_passed: bool,
    /// Symptoms of the complaint that are still there, as somebody tried them.
    pub remaining: BTreeSet<Key>,
    /// Symptoms of the complaint that could not be tried.
    pub not_tried: BTreeSet<Key>,
}

impl Situation {
    /// The visit that is neither over, missed nor called off. There is at most one.
    pub fn open_visit(&self) -> Option<&VisitTimes> {
        self.visits.iter().find(|visit| visit.state().is_open())
    }

    /// Whether anybody of us was ever there.
    pub fn attended(&self) -> bool {
        self.visits.iter().any(|visit| visit.arrived_at.is_some())
    }

    pub(super) fn is_on_site(&self) -> bool {
        self.visits.iter().any(|visit| matches!(visit.state(), VisitState::OnSite | VisitState::Left))
    }

    /// Part lines that still have to come to an end.
    pub fn open_part_lines(&self) -> Vec<PartLineState> {
        self.part_lines.iter().copied().filter(|line| line.is_open()).collect()
    }

    /// Part lines that keep a return visit from being booked.
    pub fn lines_not_set_aside(&self) -> Vec<PartLineState> {
        let waits = |line: &PartLineState| line.is_open() && *line != PartLineState::SetAside;
        self.part_lines.iter().copied().filter(waits).collect()
    }
}
