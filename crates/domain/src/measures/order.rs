//! What is known of one order, as far as a measure asks.

use chrono::{DateTime, TimeDelta, Utc};

use crate::id::{ApplianceId, BranchId, PersonId, WorkOrderId};
use crate::text::Key;
use crate::vocabulary::Position;
use crate::work::{OrderKind, Outcome, PartLineState, Urgency, WaitingReason};

type Instant = DateTime<Utc>;

/// An order with everything that its measures are made of.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderFacts {
    pub id: WorkOrderId,
    /// The one that it follows.
    pub follows: Option<WorkOrderId>,
    pub appliance: Option<ApplianceId>,
    pub model: Option<Key>,
    pub branch: Option<BranchId>,
    pub kind: OrderKind,
    pub urgency: Urgency,
    pub received_at: Instant,
    /// When the machine worked again, if that was proven and not contradicted since.
    pub restored_at: Option<Instant>,
    pub closed_at: Option<Instant>,
    /// Once it is closed.
    pub outcome: Option<Outcome>,
    /// Of visits at which somebody arrived, by arrival; those that overlap are one.
    pub attended: Vec<Attendance>,
    pub waits: Vec<Wait>,
    /// Positions of faults that were confirmed and not taken back.
    pub faults: Vec<Position>,
    /// Whether one of them was found to come from an earlier repair.
    pub from_our_repair: bool,
    pub symptoms: Vec<Key>,
    pub parts: Vec<Part>,
    /// What was done, and where.
    pub repairs: Vec<(Position, Key)>,
    /// Whether part of its proof was waived.
    pub waived: bool,
    /// How soon somebody had to be there; none where nothing was promised.
    pub promised: Option<TimeDelta>,
}

/// Time on site, of one technician or of several at once.
#[derive(Debug, Clone, PartialEq)]
pub struct Attendance {
    pub arrived_at: Instant,
    /// None while somebody is there.
    pub left_at: Option<Instant>,
    pub people: Vec<PersonId>,
}

/// Something that was waited for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wait {
    pub reason: WaitingReason,
    pub from_at: Instant,
    pub to_at: Option<Instant>,
    pub pauses_clock: bool,
}

/// A line of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    pub state: PartLineState,
    pub position: Option<Position>,
}

impl Attendance {
    /// Visits by arrival; those that overlap become one, with the people of both: two technicians are no two visits.
    pub fn together(mut visits: Vec<Self>) -> Vec<Self> {
        visits.sort_by_key(|visit| visit.arrived_at);
        let mut together: Vec<Self> = Vec::with_capacity(visits.len());
        for visit in visits {
            match together.last_mut() {
                Some(last) if last.left_at.is_none_or(|left| visit.arrived_at < left) => {
                    last.left_at = last.left_at.zip(visit.left_at).map(|(one, other)| one.max(other));
                    last.people.extend(visit.people);
                    last.people.sort_unstable();
                    last.people.dedup();
                }
                _ => together.push(visit),
            }
        }
        together
    }
}

impl OrderFacts {
    /// As it was known at a moment: what happened later is not known yet, as far as it has a time.
    #[must_use]
    pub fn as_known(mut self, at: Instant) -> Self {
        let known = |when: Option<Instant>| when.filter(|when| *when <= at);
        self.restored_at = known(self.restored_at);
        self.closed_at = known(self.closed_at);
        self.outcome = self.outcome.filter(|_| self.closed_at.is_some());
        self.attended.retain(|visit| visit.arrived_at <= at);
        for visit in &mut self.attended {
            visit.left_at = known(visit.left_at);
        }
        self.waits.retain(|wait| wait.from_at <= at);
        for wait in &mut self.waits {
            wait.to_at = known(wait.to_at);
        }
        self
    }

    pub(super) fn first_arrival(&self) -> Option<Instant> {
        self.attended.first().map(|visit| visit.arrived_at)
    }

    /// Whether somebody found a fault or mended one.
    pub(super) fn has_fault(&self) -> bool {
        !self.faults.is_empty() || matches!(self.outcome, Some(Outcome::Repaired | Outcome::TemporaryFix))
    }

    /// When somebody had to be there: the call and what was promised, and as much later as the clock was paused. None where
    /// nothing was promised, or the clock still stands.
    pub(super) fn due_at(&self) -> Option<Instant> {
        let mut due = self.received_at + self.promised?;
        let mut pauses: Vec<&Wait> = self.waits.iter().filter(|wait| wait.pauses_clock).collect();
        pauses.sort_by_key(|wait| wait.from_at);
        let mut told = self.received_at;
        for pause in pauses {
            let begin = pause.from_at.max(told);
            if begin >= due {
                break;
            }
            let end = pause.to_at?;
            if end > begin {
                due += end - begin;
                told = end;
            }
        }
        Some(due)
    }
}
