use application::interlock_defeat::ListInterlockDefeats;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::InterlockDefeat;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// The interlock defeats of an order.
#[derive(Serialize, ToSchema)]
pub struct InterlockDefeatList {
    #[schema(max_items = 10_000)]
    items: Vec<InterlockDefeat>,
}

/// List an order's interlock defeats, oldest first
#[utoipa::path(get, path = "/v1/work-orders/{id}/interlock-defeats", tag = "work orders",
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All of them", body = InterlockDefeatList)))]
pub async fn list_work_order_interlock_defeats(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let defeats = state.application.ask(&caller, ListInterlockDefeats(id)).await?;
    answer::json(&InterlockDefeatList { items: defeats.into_iter().map(InterlockDefeat::from).collect() })
}
