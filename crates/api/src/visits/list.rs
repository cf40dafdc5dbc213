use application::visit::ListVisits;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Visit;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// The visits of an order.
#[derive(Serialize, ToSchema)]
pub struct VisitList {
    #[schema(max_items = 10_000)]
    items: Vec<Visit>,
}

/// List an order's visits, by their planned times
#[utoipa::path(get, path = "/v1/work-orders/{id}/visits", tag = "visits", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All of them", body = VisitList)))]
pub async fn list_work_order_visits(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let visits = state.application.ask(&caller, ListVisits(id)).await?;
    answer::json(&VisitList { items: visits.into_iter().map(Visit::from).collect() })
}
