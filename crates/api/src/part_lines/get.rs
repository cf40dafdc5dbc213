use application::part_line::GetPartLine;
use axum::extract::State;
use axum::response::Response;
use domain::id::PartLineId;

use super::view::PartLine;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a part line
#[utoipa::path(get, path = "/v1/part-lines/{id}", tag = "part lines", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The line", body = PartLine)))]
pub async fn get_part_line(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<PartLineId>,
) -> Result<Response, Problem> {
    let line = state.application.ask(&caller, GetPartLine(id)).await?;
    let version = line.version;
    answer::item(&PartLine::from(line), version)
}
