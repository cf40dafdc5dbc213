//! What is said at intake: the past of the machines, and the cautions.

use std::collections::BTreeSet;

use chrono::TimeDelta;
use domain::id::WorkOrderId;
use domain::time::Timestamp;
use domain::work::{self, EarlierOrder, Precaution, REPEAT_WITHIN_DAYS, RepeatCall};
use store::UnitOfWork;
use store::call::Call;
use store::work_order::{self, WorkOrder};

use crate::Refusal;

/// A call with its orders and what is known of their machines.
#[derive(Debug, Clone)]
pub struct Intake {
    pub call: Call,
    pub orders: Vec<EarlierOrders>,
    /// Open orders of the site, those of this call left out.
    pub open_at_site: Vec<WorkOrder>,
    pub precautions: Vec<Precaution>,
}

/// An order of the call and the orders of its machine before it.
#[derive(Debug, Clone)]
pub struct EarlierOrders {
    pub order: WorkOrder,
    /// Open, or of the last ninety days, newest first; none while the machine is not known.
    pub earlier: Vec<WorkOrder>,
    /// Those of them that this call repeats.
    pub repeats: Vec<RepeatCall>,
    /// Those of them that are still open: this call may be about the same thing.
    pub possible_duplicates: Vec<WorkOrderId>,
}

pub(super) async fn intake(unit: &mut UnitOfWork, call: Call) -> Result<Intake, Refusal> {
    let since = call.received_at.instant() - TimeDelta::days(REPEAT_WITHIN_DAYS + 1);
    let since = Timestamp::new(since).unwrap_or(call.received_at);
    let mut orders = Vec::new();
    for order in work_order::of_call(unit, call.id).await? {
        let mut earlier = match order.appliance {
            Some(appliance) => work_order::of_appliance(unit, appliance, since).await?,
            None => Vec::new(),
        };
        earlier.retain(|other| other.call != Some(call.id) && other.received_at <= order.received_at);
        let symptoms: BTreeSet<_> = order.symptoms.iter().cloned().collect();
        let known: Vec<EarlierOrder> = earlier.iter().map(as_earlier).collect();
        let repeats = work::repeats_of(call.received_at, &symptoms, &known);
        let possible_duplicates = work::possible_duplicates_of(call.received_at, &known);
        orders.push(EarlierOrders { order, earlier, repeats, possible_duplicates });
    }
    let mut open_at_site = work_order::open_at_site(unit, call.site).await?;
    open_at_site.retain(|other| other.call != Some(call.id));
    let precautions = work::precautions(&call.dangers, call.stop_use);
    Ok(Intake { call, orders, open_at_site, precautions })
}

fn as_earlier(order: &WorkOrder) -> EarlierOrder {
    EarlierOrder {
        id: order.id,
        kind: order.kind,
        received_at: order.received_at,
        ended_at: order.closed_at,
        symptoms: order.symptoms.iter().cloned().collect(),
    }
}
