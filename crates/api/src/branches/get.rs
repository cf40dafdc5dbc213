use application::branch::GetBranch;
use axum::extract::State;
use axum::response::Response;
use domain::id::BranchId;

use super::view::Branch;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a branch
#[utoipa::path(get, path = "/v1/branches/{id}", tag = "branches", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The branch", body = Branch)))]
pub async fn get_branch(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<BranchId>,
) -> Result<Response, Problem> {
    let branch = state.application.ask(&caller, GetBranch(id)).await?;
    let version = branch.version;
    answer::item(&Branch::from(branch), version)
}
