use application::action_taken::CreateActionTaken;
use application::action_taken::NewActionTaken;
use axum::extract::State;
use axum::response::Response;
use domain::id::{ActionTakenId, PartLineId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::ActionTaken;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Something done to a position.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ActionTakenCreate {
    #[schema(value_type = schema::Id)]
    id: ActionTakenId,
    #[schema(value_type = schema::Key)]
    position: Key,
    /// From the company's list of actions: cleaned, replaced, …
    #[schema(value_type = schema::Key)]
    action: Key,
    /// The part that was fitted with it.
    #[schema(value_type = Option<schema::Id>)]
    part_line_id: Option<PartLineId>,
    /// When a temporary measure must be gone.
    #[schema(value_type = Option<schema::Instant>)]
    expires_at: Option<Timestamp>,
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
}

/// Keep what was done to a machine
///
/// What changes the machine begins a new epoch of evidence: readings from before and after it are never mixed.
/// `removed` says that the position's part was taken out and none fitted: it counts as removed then.
#[utoipa::path(post, path = "/v1/work-orders/{id}/actions-taken", tag = "findings", request_body = ActionTakenCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Kept", body = ActionTaken),
        (status = 200, description = "Was kept already", body = ActionTaken),
    ))]
pub async fn create_action_taken(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<ActionTakenCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewActionTaken {
        id: body.id,
        work_order,
        position: body.position.clone(),
        action: body.action.clone(),
        part_line: body.part_line_id,
        expires_at: body.expires_at,
        taken_at: body.taken_at,
    };
    carry_out(&state, &caller, key, &request, CreateActionTaken(new), |created| {
        let location = format!("/v1/work-orders/{}/actions-taken", created.item.work_order);
        Answer::created(created.is_new, location, 1, &ActionTaken::from(created.item))
    })
    .await
}
