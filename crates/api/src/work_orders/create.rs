use application::work_order::CreateWorkOrder;
use application::work_order::NewWorkOrder;
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, CallId, SiteId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::work::{OrderKind, Urgency};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::{Money, WorkOrder};
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// An order to open.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WorkOrderCreate {
    #[schema(value_type = schema::Id)]
    id: WorkOrderId,
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    /// A call that was taken before.
    #[schema(value_type = Option<schema::Id>)]
    call_id: Option<CallId>,
    #[schema(value_type = Option<schema::Id>)]
    appliance_id: Option<ApplianceId>,
    #[schema(value_type = schema::OrderKindWord)]
    kind: OrderKind,
    #[schema(value_type = schema::UrgencyWord)]
    urgency: Urgency,
    /// The ended order that it follows: nothing reopens one.
    #[schema(value_type = Option<schema::Id>)]
    follows_id: Option<WorkOrderId>,
    #[serde(default)]
    #[schema(value_type = Vec<schema::Key>, max_items = 30, required = false)]
    symptoms: Vec<Key>,
    /// What the customer lets us spend without a quote.
    #[schema(nullable)]
    spending_limit: Option<Money>,
    /// Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    received_at: Option<Timestamp>,
}

/// Open an order
///
/// Planned work, an installation, or what follows an ended order. A customer's call opens its own.
#[utoipa::path(post, path = "/v1/work-orders", tag = "work orders", request_body = WorkOrderCreate,
    responses(
        (status = 201, description = "Opened", body = WorkOrder),
        (status = 200, description = "Was there already", body = WorkOrder),
    ))]
pub async fn create_work_order(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<WorkOrderCreate>,
) -> Result<Response, Problem> {
    let new = NewWorkOrder {
        id: body.id,
        call: body.call_id,
        site: body.site_id,
        appliance: body.appliance_id,
        kind: body.kind,
        urgency: body.urgency,
        follows: body.follows_id,
        spending_limit: body.spending_limit.map(Into::into),
        symptoms: body.symptoms.clone(),
        received_at: body.received_at,
    };
    carry_out(&state, &caller, key, &body, CreateWorkOrder(new), |created| {
        let location = format!("/v1/work-orders/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &WorkOrder::from(created.item))
    })
    .await
}
