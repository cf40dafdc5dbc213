use application::person::UpdatePerson;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::PersonId;
use domain::role::Role;
use domain::text::{Key, Name};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Person;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of a person (RFC 7396): an absent field stays.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PersonPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Name, required = false)]
    name: Option<Name>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::RoleWord, required = false)]
    role: Option<Role>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Vec<schema::Key>, required = false, max_items = 50)]
    skills: Option<Vec<Key>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = bool, required = false)]
    active: Option<bool>,
}

/// Change a person
///
/// One who leaves is made inactive: history keeps the name, and all tokens are refused at once.
#[utoipa::path(patch, path = "/v1/people/{id}", tag = "people", params(("id" = schema::Id, Path)),
    request_body(content = PersonPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "Changed", body = Person)))]
pub async fn update_person(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<PersonId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<PersonPatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdatePerson {
        id,
        expected_version,
        name: body.name.clone(),
        role: body.role,
        skills: body.skills.clone(),
        active: body.active,
    };
    carry_out(&state, &caller, key, &request, use_case, |person| {
        let version = person.version;
        Ok(Answer::json(StatusCode::OK, &Person::from(person))?.versioned(version))
    })
    .await
}
