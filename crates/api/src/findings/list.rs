use application::finding::ListFindings;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Finding;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// The findings of an order.
#[derive(Serialize, ToSchema)]
pub struct FindingList {
    #[schema(max_items = 10_000)]
    items: Vec<Finding>,
}

/// List an order's findings, superseded ones among them
#[utoipa::path(get, path = "/v1/work-orders/{id}/findings", tag = "findings", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Oldest first", body = FindingList)))]
pub async fn list_findings(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let findings = state.application.ask(&caller, ListFindings(id)).await?;
    answer::json(&FindingList { items: findings.into_iter().map(Finding::from).collect() })
}
