use application::branch::UpdateBranch;
use axum::extract::State;
use axum::response::Response;
use domain::id::BranchId;
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Branch;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of a branch (RFC 7396): an absent field stays.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BranchPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Name, required = false)]
    name: Option<Name>,
}

/// Change a branch
#[utoipa::path(patch, path = "/v1/branches/{id}", tag = "branches",
    request_body(content = BranchPatch, content_type = "application/merge-patch+json"),
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Changed", body = Branch)))]
pub async fn update_branch(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<BranchId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<BranchPatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdateBranch { id, expected_version, name: body.name.clone() };
    carry_out(&state, &caller, key, &request, use_case, |branch| {
        let version = branch.version;
        Ok(Answer::json(axum::http::StatusCode::OK, &Branch::from(branch))?.versioned(version))
    })
    .await
}
