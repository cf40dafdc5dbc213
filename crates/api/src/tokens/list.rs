use application::token::ListTokens;
use axum::extract::State;
use axum::response::Response;
use chrono::NaiveDate;
use domain::id::{PersonId, TokenId};
use domain::role::Scope;
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A token without its secret.
#[derive(Serialize, ToSchema)]
pub struct Token {
    #[schema(value_type = schema::Id)]
    id: TokenId,
    #[schema(value_type = schema::Name)]
    name: Name,
    #[schema(value_type = Vec<schema::ScopeWord>, max_items = 3)]
    scopes: Vec<Scope>,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
    #[schema(value_type = Option<schema::Instant>, required)]
    expires_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Instant>, required)]
    revoked_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Day>, required)]
    last_used_day: Option<NaiveDate>,
}

/// The tokens of a person.
#[derive(Serialize, ToSchema)]
pub struct TokenList {
    #[schema(max_items = 100_000)]
    items: Vec<Token>,
}

/// List a person's tokens, newest first
#[utoipa::path(get, path = "/v1/people/{id}/tokens", tag = "tokens", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Without their secrets", body = TokenList)))]
pub async fn list_tokens(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<PersonId>,
) -> Result<Response, Problem> {
    let tokens = state.application.ask(&caller, ListTokens(id)).await?.into_iter().map(|token| Token {
        id: token.id,
        name: token.name,
        scopes: token.scopes,
        created_at: token.created_at,
        expires_at: token.expires_at,
        revoked_at: token.revoked_at,
        last_used_day: token.last_used_day,
    });
    answer::json(&TokenList { items: tokens.collect() })
}
