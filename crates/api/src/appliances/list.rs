use application::appliance::{ApplianceFilter, ListAppliances, ListSiteAppliances};
use axum::extract::State;
use axum::response::Response;
use domain::id::SiteId;
use domain::text::Key;
use domain::work::ApplianceState;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Appliance;
use crate::answer;
use crate::extract::{Listing, Path, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

list_query!(AppliancesQuery {
    /// Part of the serial number or of the label that says where it stands.
    #[param(min_length = 1, max_length = 200, nullable = false)]
    search: Option<String>,
    #[param(value_type = Option<schema::Id>, nullable = false)]
    site_id: Option<SiteId>,
    #[param(value_type = Option<schema::Key>, nullable = false)]
    model: Option<Key>,
    #[param(value_type = Option<schema::ApplianceStateWord>, nullable = false)]
    state: Option<ApplianceState>,
});

/// A page of machines.
#[derive(Serialize, ToSchema)]
pub struct AppliancePage {
    #[schema(max_items = 200)]
    items: Vec<Appliance>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List machines
///
/// A technician sees those in the kitchens of the orders that he is sent to.
#[utoipa::path(get, path = "/v1/appliances", tag = "appliances", params(AppliancesQuery),
    responses((status = 200, description = "A page of them", body = AppliancePage)))]
pub async fn list_appliances(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<AppliancesQuery>,
) -> Result<Response, Problem> {
    let filter = ApplianceFilter {
        search: query.search.clone(),
        site: query.site_id,
        model: query.model.clone(),
        state: query.state,
    };
    let question = ListAppliances { filter, page: query.page_request(&state.cursor_key)? };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&AppliancePage { items: page.items.into_iter().map(Appliance::from).collect(), cursor })
}

/// The machines of a kitchen.
#[derive(Serialize, ToSchema)]
pub struct SiteAppliances {
    #[schema(max_items = 1000)]
    items: Vec<Appliance>,
}

/// List the machines of a kitchen
#[utoipa::path(get, path = "/v1/sites/{id}/appliances", tag = "appliances", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All of them, oldest first", body = SiteAppliances)))]
pub async fn list_site_appliances(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<SiteId>,
) -> Result<Response, Problem> {
    let machines = state.application.ask(&caller, ListSiteAppliances(id)).await?;
    answer::json(&SiteAppliances { items: machines.into_iter().map(Appliance::from).collect() })
}
