use application::work_order::UpdateWorkOrder;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::{ApplianceId, WorkOrderId};
use domain::text::Key;
use domain::work::Urgency;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::{Money, WorkOrder};
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of an order (RFC 7396): an absent field stays, null empties it.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WorkOrderPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::UrgencyWord, required = false)]
    urgency: Option<Urgency>,
    /// Confirms which machine it is. All that a technician may change.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Id, required = false)]
    appliance_id: Option<ApplianceId>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Vec<schema::Key>, max_items = 30, required = false)]
    symptoms: Option<Vec<Key>>,
    /// What the customer lets us spend without a quote.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Money>)]
    spending_limit: Option<Option<Money>>,
}

/// Change an order, confirm its appliance
#[utoipa::path(patch, path = "/v1/work-orders/{id}", tag = "work orders",
    request_body(content = WorkOrderPatch, content_type = "application/merge-patch+json"),
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Changed", body = WorkOrder)))]
pub async fn update_work_order(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<WorkOrderPatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdateWorkOrder {
        id,
        expected_version,
        urgency: body.urgency,
        appliance: body.appliance_id,
        symptoms: body.symptoms.clone(),
        spending_limit: body.spending_limit.map(|limit| limit.map(Into::into)),
    };
    carry_out(&state, &caller, key, &request, use_case, |order| {
        let version = order.version;
        Ok(Answer::json(StatusCode::OK, &WorkOrder::from(order))?.versioned(version))
    })
    .await
}
