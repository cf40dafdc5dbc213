use application::waiting::ListWaiting;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Waiting;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What an order waits for and waited for.
#[derive(Serialize, ToSchema)]
pub struct WaitingList {
    #[schema(max_items = 10_000)]
    items: Vec<Waiting>,
}

/// List what an order waits for and waited for, oldest first
#[utoipa::path(get, path = "/v1/work-orders/{id}/waiting", tag = "work orders", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All of it", body = WaitingList)))]
pub async fn list_work_order_waiting(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let waiting = state.application.ask(&caller, ListWaiting(id)).await?;
    answer::json(&WaitingList { items: waiting.into_iter().map(Waiting::from).collect() })
}
