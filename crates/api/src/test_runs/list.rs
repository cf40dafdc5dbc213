use application::test_run::ListTestRuns;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use serde::Serialize;
use utoipa::ToSchema;

use super::run::TestRun;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// The runs of an order.
#[derive(Serialize, ToSchema)]
pub struct TestRunList {
    #[schema(max_items = 100_000)]
    items: Vec<TestRun>,
}

/// List an order's test runs
///
/// All of them, as they were sent: corrections, retractions and what they replace among them.
#[utoipa::path(get, path = "/v1/work-orders/{id}/test-runs", tag = "test runs", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "In the order in which they were taken", body = TestRunList)))]
pub async fn list_work_order_test_runs(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let runs = state.application.ask(&caller, ListTestRuns(id)).await?;
    answer::json(&TestRunList { items: runs.into_iter().map(TestRun::from).collect() })
}
