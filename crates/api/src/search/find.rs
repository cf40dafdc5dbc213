use application::find_anything::Search;
use axum::extract::State;
use axum::response::Response;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::answer;
use crate::extract::Query;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct SearchQuery {
    /// Part of a name or place, four digits or more of a phone, the beginning of a serial, an order's number.
    #[param(min_length = 2, max_length = 200)]
    q: String,
}

/// Something that was found.
#[derive(Serialize, ToSchema)]
pub struct SearchResult {
    #[schema(max_length = 20, example = "site")]
    kind: String,
    #[schema(value_type = schema::Id)]
    id: Uuid,
    #[schema(max_length = 1000)]
    title: String,
    /// Where it belongs.
    #[schema(max_length = 4000)]
    of: String,
    /// The kitchen, where it has one.
    #[schema(value_type = Option<schema::Id>, required)]
    site_id: Option<Uuid>,
}

/// What was found, at most twenty of a kind.
#[derive(Serialize, ToSchema)]
pub struct SearchResults {
    #[schema(max_items = 100)]
    items: Vec<SearchResult>,
}

/// Find a kitchen, a contact, a machine, an order
#[utoipa::path(get, path = "/v1/search", tag = "search", params(SearchQuery),
    responses((status = 200, description = "Orders first, then machines, kitchens, contacts, customers", body = SearchResults)))]
pub async fn search(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<SearchQuery>,
) -> Result<Response, Problem> {
    let found = state.application.ask(&caller, Search(query.q)).await?;
    let items = found.into_iter().map(|found| SearchResult {
        kind: found.kind,
        id: found.id,
        title: found.title,
        of: found.of,
        site_id: found.site_id,
    });
    answer::json(&SearchResults { items: items.collect() })
}
