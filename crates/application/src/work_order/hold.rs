//! Taking hold of an order before anything below it is written.

use domain::id::WorkOrderId;
use domain::time::Timestamp;
use domain::work::Missing;
use store::test_run::{self, OrderContext};
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

/// Locks the order for what was found or done there at a time: whoever was on its visit then may tell it, whoever has the
/// order now.
pub(crate) async fn hold_at(
    unit: &mut UnitOfWork,
    caller: &Caller,
    id: WorkOrderId,
    (pointer, at): (&'static str, Timestamp),
) -> Result<Held, Refusal> {
    let unknown = || Refusal::NotFound { what: "work order" };
    let seen = test_run::lock_orders(unit, &caller.read_scope(), &[id]).await?.remove(&id);
    if let Some(detail) = no_more_on_it(&seen.ok_or_else(unknown)?, at) {
        return Err(Refusal::invalid(pointer, detail));
    }
    let order = work_order::get(unit, id).await?;
    Ok(Held { order: order.ok_or_else(unknown)? })
}

/// What somebody read, found or did on a visit is taken from him for ever, what came after it is not: why an order that is
/// not his any more does not take it.
pub(crate) fn no_more_on_it(order: &OrderContext, taken_at: Timestamp) -> Option<String> {
    if order.is_visible {
        return None;
    }
    let was_on_it = |(from, to): &(Timestamp, Option<Timestamp>)| {
        is_not_ahead(*from, taken_at) && to.is_none_or(|to| is_not_ahead(taken_at, to))
    };
    if order.presence.iter().any(was_on_it) {
        return None;
    }
    let until = order.presence.iter().filter_map(|(_, to)| *to).max();
    Some(match until {
        Some(until) if until < taken_at => {
            format!(
                "you were on its visit until {until}, and this was taken at {taken_at}: ask the office to put you on it again"
            )
        }
        _ => format!("you were not on its visit at {taken_at}: ask the office to put you on it"),
    })
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
    if missing.is_empty() { Ok(()) } else { Err(Refusal::Missing(missing.to_vec())) }
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
