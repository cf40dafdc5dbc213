use application::test_run::GetTestRun;
use axum::extract::State;
use axum::response::Response;
use domain::id::TestRunId;

use super::run::TestRun;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a test run as it is kept
#[utoipa::path(get, path = "/v1/test-runs/{id}", tag = "test runs", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The run", body = TestRun)))]
pub async fn get_test_run(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<TestRunId>,
) -> Result<Response, Problem> {
    answer::json(&TestRun::from(state.application.ask(&caller, GetTestRun(id)).await?))
}
