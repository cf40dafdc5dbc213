use application::contact::ListContacts;
use axum::extract::State;
use axum::response::Response;
use domain::id::{CustomerId, SiteId};
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Contact;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

list_query!(ContactsQuery {
    #[param(value_type = Option<schema::Id>, nullable = false)]
    customer_id: Option<CustomerId>,
    #[param(value_type = Option<schema::Id>, nullable = false)]
    site_id: Option<SiteId>,
    /// Part of the name, or at least four digits of the phone.
    #[param(min_length = 1, max_length = 200, nullable = false)]
    search: Option<String>,
});

/// A page of contacts.
#[derive(Serialize, ToSchema)]
pub struct ContactPage {
    #[schema(max_items = 200)]
    items: Vec<Contact>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List contacts
#[utoipa::path(get, path = "/v1/contacts", tag = "contacts", params(ContactsQuery),
    responses((status = 200, description = "A page of them", body = ContactPage)))]
pub async fn list_contacts(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<ContactsQuery>,
) -> Result<Response, Problem> {
    let question = ListContacts {
        customer: query.customer_id,
        site: query.site_id,
        search: query.search.clone(),
        page: query.page_request(&state.cursor_key)?,
    };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&ContactPage { items: page.items.into_iter().map(Contact::from).collect(), cursor })
}
