use application::learning::ListKnowledgeVersions;
use axum::extract::State;
use axum::response::Response;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::KnowledgeVersion;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::state::ApiState;

list_query!(KnowledgeVersionsQuery {});

/// A page of knowledge versions.
#[derive(Serialize, ToSchema)]
pub struct KnowledgeVersionPage {
    #[schema(max_items = 200)]
    items: Vec<KnowledgeVersion>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List knowledge versions
#[utoipa::path(get, path = "/v1/knowledge-versions", tag = "known good", params(KnowledgeVersionsQuery),
    responses((status = 200, description = "A page of them", body = KnowledgeVersionPage)))]
pub async fn list_knowledge_versions(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<KnowledgeVersionsQuery>,
) -> Result<Response, Problem> {
    let question = ListKnowledgeVersions { page: query.page_request(&state.cursor_key)? };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    let items = page.items.into_iter().map(KnowledgeVersion::from).collect();
    answer::json(&KnowledgeVersionPage { items, cursor })
}
