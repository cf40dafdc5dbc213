use application::person::GetMe;
use axum::extract::State;
use axum::response::Response;
use domain::id::PersonId;
use domain::role::{Role, Scope};
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Who the token speaks for.
#[derive(Serialize, ToSchema)]
pub struct Me {
    #[schema(value_type = schema::Id)]
    person_id: PersonId,
    #[schema(max_length = 200)]
    name: String,
    #[schema(value_type = schema::RoleWord)]
    role: Role,
    #[schema(value_type = Vec<schema::ScopeWord>, max_items = 3)]
    scopes: Vec<Scope>,
}

/// Who am I?
#[utoipa::path(get, path = "/v1/me", tag = "people",
    responses((status = 200, description = "The token's holder", body = Me)))]
pub async fn get_me(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
) -> Result<Response, Problem> {
    let principal = state.application.ask(&caller, GetMe).await?;
    answer::json(&Me {
        person_id: principal.person,
        name: principal.name,
        role: principal.role,
        scopes: principal.scopes,
    })
}
