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
    let line = store::part_line::find(state.application.database(), &caller.read_scope(), id).await?;
    let line = line.ok_or_else(|| Problem::not_found("part line"))?;
    let version = line.version;
    answer::item(&PartLine::from(line), version)
}
