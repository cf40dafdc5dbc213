use application::part::GetPart;
use axum::extract::State;
use axum::response::Response;
use domain::id::PartId;

use super::view::Part;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a part
#[utoipa::path(get, path = "/v1/parts/{id}", tag = "parts", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The part", body = Part)))]
pub async fn get_part(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<PartId>,
) -> Result<Response, Problem> {
    let part = state.application.ask(&caller, GetPart(id)).await?;
    let version = part.version;
    answer::item(&Part::from(part), version)
}
