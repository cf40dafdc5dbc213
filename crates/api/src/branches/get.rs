use axum::extract::State;
use axum::response::Response;
use domain::id::BranchId;

use super::view::Branch;
use crate::answer;
use crate::extract::Path;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a branch
#[utoipa::path(get, path = "/v1/branches/{id}", tag = "branches", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The branch", body = Branch)))]
pub async fn get_branch(
    State(state): State<ApiState>,
    Path(id): Path<BranchId>,
) -> Result<Response, Problem> {
    let branch = store::branch::find(state.application.database(), id).await?;
    let branch = branch.ok_or_else(|| Problem::not_found("branch"))?;
    let version = branch.version;
    answer::item(&Branch::from(branch), version)
}
