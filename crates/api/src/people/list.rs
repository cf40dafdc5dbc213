use application::person::ListPeople;
use axum::extract::State;
use axum::response::Response;
use domain::role::Role;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Person;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

list_query!(PeopleQuery {
    /// Part of the name.
    #[param(min_length = 1, max_length = 200, nullable = false)]
    search: Option<String>,
    #[param(value_type = Option<schema::RoleWord>, nullable = false)]
    role: Option<Role>,
});

/// A page of people.
#[derive(Serialize, ToSchema)]
pub struct PersonPage {
    #[schema(max_items = 200)]
    items: Vec<Person>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List people
#[utoipa::path(get, path = "/v1/people", tag = "people", params(PeopleQuery),
    responses((status = 200, description = "A page of them", body = PersonPage)))]
pub async fn list_people(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<PeopleQuery>,
) -> Result<Response, Problem> {
    let question = ListPeople {
        search: query.search.clone(),
        role: query.role,
        page: query.page_request(&state.cursor_key)?,
    };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&PersonPage { items: page.items.into_iter().map(Person::from).collect(), cursor })
}
