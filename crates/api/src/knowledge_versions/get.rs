use application::learning::GetKnowledgeVersion;
use axum::extract::State;
use axum::response::Response;

use super::view::KnowledgeVersion;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
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
    Authenticated(caller): Authenticated,
    Path(n): Path<i64>,
) -> Result<Response, Problem> {
    let learning = state.application.ask(&caller, GetKnowledgeVersion(n)).await?;
    answer::json(&KnowledgeVersion::from(learning))
}
