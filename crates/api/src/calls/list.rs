use application::call::ListCalls;
use axum::extract::State;
use axum::response::Response;
use domain::id::SiteId;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Call;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

list_query!(CallsQuery {
    /// Calls of this site.
    #[param(value_type = schema::Id, nullable = false, required = false)]
    site_id: Option<SiteId>,
});

/// A page of calls.
#[derive(Serialize, ToSchema)]
pub struct CallPage {
    #[schema(max_items = 200)]
    items: Vec<Call>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List calls
#[utoipa::path(get, path = "/v1/calls", tag = "calls", params(CallsQuery),
    responses((status = 200, description = "A page of them", body = CallPage)))]
pub async fn list_calls(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<CallsQuery>,
) -> Result<Response, Problem> {
    let question = ListCalls { site: query.site_id, page: query.page_request(&state.cursor_key)? };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&CallPage { items: page.items.into_iter().map(Call::from).collect(), cursor })
}
