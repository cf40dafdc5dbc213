use application::contact::GetContact;
use axum::extract::State;
use axum::response::Response;
use domain::id::ContactId;

use super::view::Contact;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a contact
#[utoipa::path(get, path = "/v1/contacts/{id}", tag = "contacts", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The contact", body = Contact)))]
pub async fn get_contact(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ContactId>,
) -> Result<Response, Problem> {
    let contact = state.application.ask(&caller, GetContact(id)).await?;
    let version = contact.version;
    answer::item(&Contact::from(contact), version)
}
