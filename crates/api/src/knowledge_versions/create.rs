use application::learning::CreateKnowledgeVersion;
use application::learning::NewLearning;
use axum::extract::State;
use axum::response::Response;
use domain::id::KnowledgeVersionId;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::KnowledgeVersion;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A learning to begin.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct KnowledgeVersionCreate {
    #[schema(value_type = schema::Id)]
    id: KnowledgeVersionId,
    /// What happened later is taken as not known; not in the future.
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
}

/// Learn anew
///
/// Begins to learn from all that is stored and answers at once; read the version to follow it. Verdicts use
/// it from the moment it is done. One at a time: while another runs, 409.
#[utoipa::path(post, path = "/v1/knowledge-versions", tag = "known good", request_body = KnowledgeVersionCreate,
    responses(
        (status = 201, description = "Begun", body = KnowledgeVersion),
        (status = 200, description = "Was begun already", body = KnowledgeVersion),
    ))]
pub async fn create_knowledge_version(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<KnowledgeVersionCreate>,
) -> Result<Response, Problem> {
    let use_case = CreateKnowledgeVersion(NewLearning { id: body.id, as_of: body.as_of });
    let answer = carry_out(&state, &caller, key, &body, use_case, |created| {
        let location = format!("/v1/knowledge-versions/{}", created.item.n);
        Answer::created(created.is_new, location, 1, &KnowledgeVersion::from(created.item))
    })
    .await?;
    state.application.asked_to_learn().notify_one();
    Ok(answer)
}
