use application::person::CreatePerson;
use application::person::NewPerson;
use axum::extract::State;
use axum::response::Response;
use domain::id::PersonId;
use domain::role::Role;
use domain::text::{Key, Name};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Person;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Somebody to take into the company.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PersonCreate {
    #[schema(value_type = schema::Id)]
    id: PersonId,
    #[schema(value_type = schema::Name)]
    name: Name,
    #[schema(value_type = schema::RoleWord)]
    role: Role,
    #[serde(default)]
    #[schema(value_type = Vec<schema::Key>, max_items = 50)]
    skills: Vec<Key>,
}

/// Take somebody into the company
#[utoipa::path(post, path = "/v1/people", tag = "people", request_body = PersonCreate,
    responses(
        (status = 201, description = "Taken in", body = Person),
        (status = 200, description = "Was there already", body = Person),
    ))]
pub async fn create_person(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<PersonCreate>,
) -> Result<Response, Problem> {
    let new =
        NewPerson { id: body.id, name: body.name.clone(), role: body.role, skills: body.skills.clone() };
    carry_out(&state, &caller, key, &body, CreatePerson(new), |created| {
        let location = format!("/v1/people/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Person::from(created.item))
    })
    .await
}
