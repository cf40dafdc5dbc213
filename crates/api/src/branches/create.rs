use application::branch::CreateBranch;
use application::branch::NewBranch;
use axum::extract::State;
use axum::response::Response;
use domain::id::BranchId;
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Branch;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A branch to open.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BranchCreate {
    #[schema(value_type = schema::Id)]
    id: BranchId,
    #[schema(value_type = schema::Name)]
    name: Name,
}

/// Open a branch
///
/// The same id and body again is answered 200 and changes nothing.
#[utoipa::path(post, path = "/v1/branches", tag = "branches", request_body = BranchCreate,
    responses(
        (status = 201, description = "Opened", body = Branch),
        (status = 200, description = "Was there already", body = Branch),
    ))]
pub async fn create_branch(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<BranchCreate>,
) -> Result<Response, Problem> {
    let new = NewBranch { id: body.id, name: body.name.clone() };
    carry_out(&state, &caller, key, &body, CreateBranch(new), |created| {
        let location = format!("/v1/branches/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Branch::from(created.item))
    })
    .await
}
