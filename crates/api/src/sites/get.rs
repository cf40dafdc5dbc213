use application::site::GetSite;
use axum::extract::State;
use axum::response::Response;
use domain::id::SiteId;

use super::view::Site;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a kitchen
#[utoipa::path(get, path = "/v1/sites/{id}", tag = "sites", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The kitchen", body = Site)))]
pub async fn get_site(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<SiteId>,
) -> Result<Response, Problem> {
    let site = state.application.ask(&caller, GetSite(id)).await?;
    let version = site.version;
    answer::item(&Site::from(site), version)
}
