use application::person::GetPerson;
use axum::extract::State;
use axum::response::Response;
use domain::id::PersonId;

use super::view::Person;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a person
#[utoipa::path(get, path = "/v1/people/{id}", tag = "people", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The person", body = Person)))]
pub async fn get_person(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<PersonId>,
) -> Result<Response, Problem> {
    let person = state.application.ask(&caller, GetPerson(id)).await?;
    let version = person.version;
    answer::item(&Person::from(person), version)
}
