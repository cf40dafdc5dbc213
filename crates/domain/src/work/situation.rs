use std::collections::BTreeSet;
use std::fmt;

use super::visit::{VisitState, VisitTimes};
use super::{ApplianceState, OrderKind, OrderState, PartLineState, Waived};
use crate::text::Key;
use crate::time::Timestamp;

/// A part line as people speak of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineStanding {
    /// The part's title and number.
    pub part: String,
    pub state: PartLineState,
    /// Fitted, and no action taken names it: no epoch began with it.
    pub lacks_action: bool,
}

impl fmt::Display for LineStanding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {}", self.part, self.state)
    }
}

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
    /// Positions whose last action is a stopgap.
    pub stopgaps: Vec<Key>,
    pub part_lines: Vec<LineStanding>,
    /// When those interlock defeats end that nobody has removed.
    pub open_interlock_defeats: Vec<Timestamp>,
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

/// The procedure that proves the whole machine.
pub const FULL_CYCLE: &str = "full_cycle";

/// Whether a procedure is read again after a repair before the order is proven: one in which something failed before, and the
/// full cycle. What advises and what holds the proof ask here.
pub fn proves(procedure: &Key, failed_before: &BTreeSet<Key>) -> bool {
    procedure.as_str() == FULL_CYCLE || failed_before.contains(procedure)
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
    pub fn open_part_lines(&self) -> Vec<LineStanding> {
        self.part_lines.iter().filter(|line| line.state.is_open()).cloned().collect()
    }

    /// Part lines that keep a return visit from being booked.
    pub fn lines_not_set_aside(&self) -> Vec<LineStanding> {
        let waits = |line: &&LineStanding| line.state.is_open() && line.state != PartLineState::SetAside;
        self.part_lines.iter().filter(waits).cloned().collect()
    }
}
