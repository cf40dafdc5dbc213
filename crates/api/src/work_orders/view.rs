use domain::id::{ApplianceId, CallId, ContactId, SiteId, WorkOrderId};
use domain::money::{Amount, Currency};
use domain::text::Key;
use domain::time::Timestamp;
use domain::work::{OrderKind, OrderState, Outcome, Urgency};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::schema;

/// An amount in its currency.
#[derive(Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Money {
    #[schema(value_type = schema::Amount)]
    pub amount: Amount,
    #[schema(value_type = schema::Currency)]
    pub currency: Currency,
}

impl From<Money> for application::work_order::Money {
    fn from(money: Money) -> Self {
        Self { amount: money.amount, currency: money.currency }
    }
}

impl From<application::work_order::Money> for Money {
    fn from(money: application::work_order::Money) -> Self {
        Self { amount: money.amount, currency: money.currency }
    }
}

/// The work on one machine, from the call to its end.
#[derive(Serialize, ToSchema)]
pub struct WorkOrder {
    #[schema(value_type = schema::Id)]
    id: WorkOrderId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    /// What people call it by.
    #[schema(minimum = 1)]
    number: i64,
    #[schema(value_type = Option<schema::Id>, required)]
    call_id: Option<CallId>,
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    /// Null until somebody has confirmed which machine it is.
    #[schema(value_type = Option<schema::Id>, required)]
    appliance_id: Option<ApplianceId>,
    #[schema(value_type = schema::OrderKindWord)]
    kind: OrderKind,
    #[schema(value_type = schema::UrgencyWord)]
    urgency: Urgency,
    #[schema(value_type = schema::OrderStateWord)]
    state: OrderState,
    #[schema(value_type = Vec<schema::Key>, max_items = 30)]
    symptoms: Vec<Key>,
    #[schema(value_type = Option<schema::OutcomeWord>, required)]
    outcome: Option<Outcome>,
    /// When the machine worked again.
    #[schema(value_type = Option<schema::Instant>, required)]
    restored_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Instant>, required)]
    closed_at: Option<Timestamp>,
    /// When a reading contradicted what had been proven.
    #[schema(value_type = Option<schema::Instant>, required)]
    proof_doubted_at: Option<Timestamp>,
    /// The order that is proposed to follow one whose proof is doubted, until one does: create_work_order takes it with an id.
    #[schema(required, nullable)]
    proposed: Option<FollowingOrder>,
    /// The ended order that it follows.
    #[schema(value_type = Option<schema::Id>, required)]
    follows_id: Option<WorkOrderId>,
    /// What the customer lets us spend without a quote.
    #[schema(required, nullable)]
    spending_limit: Option<Money>,
    /// Who signed at the customer's.
    #[schema(value_type = Option<schema::Id>, required)]
    signed_off_by: Option<ContactId>,
    #[schema(value_type = schema::Instant)]
    received_at: Timestamp,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

/// An order that goes on where an ended one is doubted, as create_work_order takes it.
#[derive(Serialize, ToSchema)]
pub struct FollowingOrder {
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    #[schema(value_type = Option<schema::Id>, required)]
    appliance_id: Option<ApplianceId>,
    #[schema(value_type = schema::OrderKindWord)]
    kind: OrderKind,
    #[schema(value_type = schema::UrgencyWord)]
    urgency: Urgency,
    #[schema(value_type = Vec<schema::Key>, max_items = 30)]
    symptoms: Vec<Key>,
    #[schema(value_type = schema::Id)]
    follows_id: WorkOrderId,
}

impl FollowingOrder {
    fn of(order: &application::work_order::WorkOrder) -> Option<Self> {
        (order.proof_doubted_at.is_some() && !order.is_followed).then(|| Self {
            site_id: order.site,
            appliance_id: order.appliance,
            kind: OrderKind::Corrective,
            urgency: order.urgency,
            symptoms: order.symptoms.clone(),
            follows_id: order.id,
        })
    }
}

impl From<application::work_order::WorkOrder> for WorkOrder {
    fn from(order: application::work_order::WorkOrder) -> Self {
        let proposed = FollowingOrder::of(&order);
        Self {
            id: order.id,
            version: order.version,
            number: order.number,
            call_id: order.call,
            site_id: order.site,
            appliance_id: order.appliance,
            kind: order.kind,
            urgency: order.urgency,
            state: order.state,
            symptoms: order.symptoms,
            outcome: order.outcome,
            restored_at: order.restored_at,
            closed_at: order.closed_at,
            proof_doubted_at: order.proof_doubted_at,
            proposed,
            follows_id: order.follows,
            spending_limit: order.spending_limit.map(Money::from),
            signed_off_by: order.signed_off_by,
            received_at: order.received_at,
            created_at: order.created_at,
        }
    }
}
