//! Taking hold of an order before anything below it is written.

use domain::id::WorkOrderId;
use domain::time::Timestamp;
use domain::work::Missing;
use store::work_order::{self, WorkOrder};
use store::{Change, UnitOfWork};

use crate::{Caller, Fault, Refusal};

/// An order that is locked until the unit of work ends.
pub(crate) struct Held {
    pub order: WorkOrder,
}

/// Locks the order, if the caller may see it.
pub(crate) async fn hold(unit: &mut UnitOfWork, caller: &Caller, id: WorkOrderId) -> Result<Held, Refusal> {
    let order = work_order::lock(unit, &caller.read_scope(), id).await?;
    Ok(Held { order: order.ok_or(Refusal::NotFound { what: "work order" })? })
}

impl Held {
    /// What changed below this order.
    pub fn change(&self, kind: &'static str, subject: impl Into<uuid::Uuid>) -> Change {
        let order = &self.order;
        Change::of(kind, subject).at_site(order.site).on_appliance(order.appliance).on_order(Some(order.id))
    }

    /// Refuses on an order that has ended.
    pub fn require_open(&self) -> Result<(), Refusal> {
        if self.order.state.has_ended() { require(&[Missing::Ended]) } else { Ok(()) }
    }
}

/// Refuses unless nothing is missing.
pub(crate) fn require(missing: &[Missing]) -> Result<(), Refusal> {
    if missing.is_empty() {
        return Ok(());
    }
    let missing: Vec<String> = missing.iter().map(ToString::to_string).collect();
    Err(Refusal::NotNow {
        detail: format!("not allowed now; what is missing: {}", missing.join("; ")),
        missing,
    })
}

/// How far a phone's clock may be ahead of ours.
const LEEWAY: chrono::TimeDelta = chrono::TimeDelta::minutes(5);

/// Whether an instant lies before another, or so little after it that only clocks differ.
pub(crate) fn is_not_ahead(at: Timestamp, of: Timestamp) -> bool {
    at.instant() <= of.instant() + LEEWAY
}

/// A fault if something is said to have happened in the future.
pub(crate) fn not_in_future(pointer: &str, at: Option<Timestamp>, now: Timestamp, faults: &mut Vec<Fault>) {
    if at.is_some_and(|at| !is_not_ahead(at, now)) {
        faults.push(Fault::at(pointer, format!("must not lie in the future; it is {now} now")));
    }
}
