use application::token::RevokeToken;
use axum::extract::State;
use axum::response::Response;
use domain::id::TokenId;

use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// End a token at once
#[utoipa::path(delete, path = "/v1/tokens/{id}", tag = "tokens", params(("id" = schema::Id, Path)),
    responses((status = 204, description = "It is refused from now on")))]
pub async fn revoke_token(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<TokenId>,
    IdempotencyKey(key): IdempotencyKey,
) -> Result<Response, Problem> {
    carry_out(&state, &caller, key, &id, RevokeToken(id), |()| Ok(Answer::empty())).await
}
