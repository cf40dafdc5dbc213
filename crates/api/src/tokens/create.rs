use application::token::{self, CreateToken, NewSecret};
use application::{Application, Refusal};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::id::{PersonId, TokenId};
use domain::role::Scope;
use domain::text::Name;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A token to make.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TokenCreate {
    /// What it is for: the phone, the program.
    #[schema(value_type = schema::Name)]
    name: Name,
    #[schema(value_type = Vec<schema::ScopeWord>, min_items = 1, max_items = 3)]
    scopes: Vec<Scope>,
    #[schema(value_type = Option<schema::Instant>)]
    expires_at: Option<Timestamp>,
}

/// A new token. Its secret is shown this once; only its hash is kept.
///
/// A request that is repeated with its Idempotency-Key is told that the token was made, not what it is: if the first answer
/// was lost, revoke this token and make another.
#[derive(Serialize, ToSchema)]
pub struct TokenCreated {
    #[schema(value_type = schema::Id)]
    id: TokenId,
    /// None in the answer to a repeated request.
    #[schema(max_length = 64, required)]
    secret: Option<String>,
}

/// Make a token for a person
#[utoipa::path(post, path = "/v1/people/{id}/tokens", tag = "tokens", request_body = TokenCreate,
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Made; the secret is shown this once", body = TokenCreated)))]
pub async fn create_token(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(person): Path<PersonId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<TokenCreate>,
) -> Result<Response, Problem> {
    let secret = new_secret(&state.application).await?;
    let request = (person, &body);
    let use_case = CreateToken {
        person,
        name: body.name.clone(),
        scopes: body.scopes.clone(),
        expires_at: body.expires_at,
        secret: secret.clone(),
    };
    carry_out(&state, &caller, key, &request, use_case, |id| {
        let given = Answer::json(StatusCode::OK, &TokenCreated { id, secret: Some(secret.0) })?;
        Ok(given.kept_as(Answer::json(StatusCode::OK, &TokenCreated { id, secret: None })?))
    })
    .await
}

/// 244 random bits and their tag; a version 4 UUID draws 122 from the operating system.
#[expect(clippy::disallowed_methods, reason = "a secret must not be foreseeable")]
pub async fn new_secret(application: &Application) -> Result<NewSecret, Refusal> {
    let (first, second) = (uuid::Uuid::new_v4(), uuid::Uuid::new_v4());
    let drawn = URL_SAFE_NO_PAD.encode([first.into_bytes(), second.into_bytes()].concat());
    token::seal(application, &drawn).await
}
