use application::visit::GetVisit;
use axum::extract::State;
use axum::response::Response;
use domain::id::VisitId;

use super::view::Visit;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a visit
#[utoipa::path(get, path = "/v1/visits/{id}", tag = "visits", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The visit", body = Visit)))]
pub async fn get_visit(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<VisitId>,
) -> Result<Response, Problem> {
    let visit = state.application.ask(&caller, GetVisit(id)).await?;
    let version = visit.version;
    answer::item(&Visit::from(visit), version)
}
