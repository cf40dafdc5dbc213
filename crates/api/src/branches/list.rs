use application::branch::ListBranches;
use axum::extract::State;
use axum::response::Response;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Branch;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::state::ApiState;

list_query!(BranchesQuery {
    /// Part of the name.
    #[param(min_length = 1, max_length = 200, nullable = false)]
    search: Option<String>,
});

/// A page of branches.
#[derive(Serialize, ToSchema)]
pub struct BranchPage {
    #[schema(max_items = 200)]
    items: Vec<Branch>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List branches
#[utoipa::path(get, path = "/v1/branches", tag = "branches", params(BranchesQuery),
    responses((status = 200, description = "A page of them", body = BranchPage)))]
pub async fn list_branches(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<BranchesQuery>,
) -> Result<Response, Problem> {
    let question =
        ListBranches { search: query.search.clone(), page: query.page_request(&state.cursor_key)? };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&BranchPage { items: page.items.into_iter().map(Branch::from).collect(), cursor })
}
