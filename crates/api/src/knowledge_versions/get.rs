use axum::extract::State;
use axum::response::Response;

use super::view::KnowledgeVersion;
use crate::answer;
use crate::extract::Path;
use crate::problem::Problem;
use crate::state::ApiState;

/// Read a knowledge version
///
/// While it is being learned, how far it is.
#[utoipa::path(get, path = "/v1/knowledge-versions/{n}", tag = "known good",
    params(("n" = i64, Path, minimum = 1, description = "The version's number")),
    responses((status = 200, description = "The version", body = KnowledgeVersion)))]
pub async fn get_knowledge_version(
    State(state): State<ApiState>,
    Path(n): Path<i64>,
) -> Result<Response, Problem> {
    let learning = store::learning::find(state.application.database(), n).await?;
    let learning = learning.ok_or_else(|| Problem::not_found("knowledge version"))?;
    answer::json(&KnowledgeVersion::from(learning))
}
