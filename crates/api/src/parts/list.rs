use application::part::ListParts;
use axum::extract::State;
use axum::response::Response;
use domain::text::Key;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Part;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

list_query!(PartsQuery {
    /// The beginning of the number, or part of the title.
    #[param(min_length = 1, max_length = 200, nullable = false)]
    search: Option<String>,
    /// Only parts that fit this model.
    #[param(value_type = Option<schema::Key>, nullable = false)]
    model_key: Option<Key>,
    /// Only parts that fit at this position.
    #[param(value_type = Option<schema::Key>, nullable = false)]
    position: Option<Key>,
});

/// A page of parts.
#[derive(Serialize, ToSchema)]
pub struct PartPage {
    #[schema(max_items = 200)]
    items: Vec<Part>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List parts
#[utoipa::path(get, path = "/v1/parts", tag = "parts", params(PartsQuery),
    responses((status = 200, description = "A page of them", body = PartPage)))]
pub async fn list_parts(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<PartsQuery>,
) -> Result<Response, Problem> {
    let question = ListParts {
        search: query.search.clone(),
        model: query.model_key.clone(),
        position: query.position.clone(),
        page: query.page_request(&state.cursor_key)?,
    };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&PartPage { items: page.items.into_iter().map(Part::from).collect(), cursor })
}
