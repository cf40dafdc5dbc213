use application::action_taken::ListActionsTaken;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::ActionTaken;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What was done on an order.
#[derive(Serialize, ToSchema)]
pub struct ActionTakenList {
    #[schema(max_items = 10_000)]
    items: Vec<ActionTaken>,
}

/// List what was done on an order
#[utoipa::path(get, path = "/v1/work-orders/{id}/actions-taken", tag = "findings", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Oldest first", body = ActionTakenList)))]
pub async fn list_actions_taken(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let actions = state.application.ask(&caller, ListActionsTaken(id)).await?;
    answer::json(&ActionTakenList { items: actions.into_iter().map(ActionTaken::from).collect() })
}
