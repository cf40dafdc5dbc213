use application::work_order::{MoveSaying, MoveWorkOrder};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::{ContactId, WorkOrderId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use domain::work::{ApplianceState, OrderAction, Outcome, SymptomResult};
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
    /// With prove: what became of each symptom of the complaint, as somebody tried it.
    #[serde(default)]
    #[schema(required = false, max_items = 30)]
    symptoms: Vec<SymptomTried>,
    /// With close: how the order ends.
    #[schema(value_type = Option<schema::OutcomeWord>)]
    outcome: Option<Outcome>,
    /// With close: in which state the machine is left. An unsafe one is released by its own operation.
    #[schema(value_type = Option<schema::ApplianceStateWord>)]
    appliance_state: Option<ApplianceState>,
    /// With close: who signed at the customer's.
    #[schema(value_type = Option<schema::Id>)]
    signed_off_by: Option<ContactId>,
    /// Kept in the audit trail.
    #[schema(value_type = Option<schema::Words>)]
    why: Option<Words>,
}

/// What became of a symptom of the complaint.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SymptomTried {
    #[schema(value_type = schema::Key)]
    symptom: Key,
    #[schema(value_type = schema::SymptomResultWord)]
    result: SymptomResult,
}

/// Move an order from one state to another
///
/// received, assessed, planned, under_repair, repaired_unproven, proven, closed; or cancelled. A refusal lists what is
/// missing. Proving takes passing after-readings of every test that failed before and a full cycle that cleans and does not seep,
/// all after the last action that changed the machine, and every symptom of the complaint gone; or a waiver. A reading that says
/// otherwise later takes the proof back, or doubts it if the order has ended. An order that has ended is not reopened: another follows it.
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
            symptoms: body.symptoms.iter().map(|tried| (tried.symptom.clone(), tried.result)).collect(),
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
