use application::site::{ListSites, SiteFilter};
use axum::extract::State;
use axum::response::Response;
use domain::id::{BranchId, CustomerId};
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Site;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

list_query!(SitesQuery {
    /// Part of the name or the place, or the whole external id.
    #[param(min_length = 1, max_length = 200, nullable = false)]
    search: Option<String>,
    #[param(value_type = Option<schema::Id>, nullable = false)]
    customer_id: Option<CustomerId>,
    #[param(value_type = Option<schema::Id>, nullable = false)]
    branch_id: Option<BranchId>,
});

/// A page of kitchens.
#[derive(Serialize, ToSchema)]
pub struct SitePage {
    #[schema(max_items = 200)]
    items: Vec<Site>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List kitchens
///
/// A technician sees those of the orders that he is sent to.
#[utoipa::path(get, path = "/v1/sites", tag = "sites", params(SitesQuery),
    responses((status = 200, description = "A page of them", body = SitePage)))]
pub async fn list_sites(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<SitesQuery>,
) -> Result<Response, Problem> {
    let filter =
        SiteFilter { search: query.search.clone(), customer: query.customer_id, branch: query.branch_id };
    let question = ListSites { filter, page: query.page_request(&state.cursor_key)? };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&SitePage { items: page.items.into_iter().map(Site::from).collect(), cursor })
}
