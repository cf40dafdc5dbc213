use application::known_good::ListKnownGoodRemovals;
use axum::extract::State;
use axum::response::Response;
use domain::id::TestRunId;
use serde::Serialize;
use utoipa::ToSchema;

use super::removal::KnownGoodRemoval;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

list_query!(KnownGoodRemovalsQuery {
    /// Of this run alone.
    #[param(value_type = schema::Id, required = false, nullable = false)]
    test_run_id: Option<TestRunId>,
});

/// A page of entries.
#[derive(Serialize, ToSchema)]
pub struct KnownGoodRemovalPage {
    #[schema(max_items = 200)]
    items: Vec<KnownGoodRemoval>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List readings taken out of the references
#[utoipa::path(get, path = "/v1/known-good/removals", tag = "known good", params(KnownGoodRemovalsQuery),
    responses((status = 200, description = "A page of entries", body = KnownGoodRemovalPage)))]
pub async fn list_known_good_removals(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<KnownGoodRemovalsQuery>,
) -> Result<Response, Problem> {
    let page = query.page_request(&state.cursor_key)?;
    let question = ListKnownGoodRemovals { test_run: query.test_run_id, page };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    let items = page.items.into_iter().map(KnownGoodRemoval::from).collect();
    answer::json(&KnownGoodRemovalPage { items, cursor })
}
