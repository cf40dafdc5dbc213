use application::part_line::ListPartLines;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::PartLine;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// The part lines of an order.
#[derive(Serialize, ToSchema)]
pub struct PartLineList {
    #[schema(max_items = 10_000)]
    items: Vec<PartLine>,
}

/// List an order's part lines, oldest first
#[utoipa::path(get, path = "/v1/work-orders/{id}/part-lines", tag = "part lines", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All of them", body = PartLineList)))]
pub async fn list_part_lines(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let lines = state.application.ask(&caller, ListPartLines(id)).await?;
    answer::json(&PartLineList { items: lines.into_iter().map(PartLine::from).collect() })
}
