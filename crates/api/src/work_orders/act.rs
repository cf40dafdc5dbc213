use application::work_order::{MoveSaying, MoveWorkOrder};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::{ContactId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use domain::work::{ApplianceState, OrderAction, Outcome};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::WorkOrder;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What a move says besides its name; most say nothing.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WorkOrderMove {
    /// With report_repaired: when the machine worked again.
    #[schema(value_type = Option<schema::Instant>)]
    restored_at: Option<Timestamp>,
    /// With close: how the order ends.
    #[schema(value_type = Option<schema::OutcomeWord>)]
    outcome: Option<Outcome>,
    /// With close: in which state the machine is left. An unsafe one is released here by name, never by the way.
    #[schema(value_type = Option<schema::ApplianceStateWord>)]
    appliance_state: Option<ApplianceState>,
    /// With close: who signed at the customer's.
    #[schema(value_type = Option<schema::Id>)]
    signed_off_by: Option<ContactId>,
    /// Kept in the audit trail.
    #[schema(value_type = Option<schema::Words>)]
    why: Option<Words>,
}

/// Move an order from one state to another
///
/// received, assessed, planned, under_repair, repaired_unproven, proven, closed; or cancelled. A refusal lists what is
/// missing. Proving takes passing after-readings of every test that failed before and a passed full cycle, all after
/// the last action that changed the machine, or a waiver. An order that has ended is not reopened: another follows it.
#[utoipa::path(post, path = "/v1/work-orders/{id}/actions/{action}", tag = "work orders",
    request_body = WorkOrderMove,
    params(("id" = schema::Id, Path), ("action" = schema::OrderActionWord, Path)),
    responses((status = 200, description = "Moved", body = WorkOrder)))]
pub async fn act_on_work_order(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((id, action)): Path<(WorkOrderId, OrderAction)>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<WorkOrderMove>,
) -> Result<Response, Problem> {
    let request = (id, action, expected_version, &body);
    let use_case = MoveWorkOrder {
        versions: state.application.versions().clone(),
        id,
        expected_version,
        action,
        saying: MoveSaying {
            restored_at: body.restored_at,
            outcome: body.outcome,
            appliance_state: body.appliance_state,
            signed_off_by: body.signed_off_by,
            why: body.why.as_ref().map(ToString::to_string),
        },
    };
    carry_out(&state, &caller, key, &request, use_case, |order| {
        let version = order.version;
        Ok(Answer::json(StatusCode::OK, &WorkOrder::from(order))?.versioned(version))
    })
    .await
}
