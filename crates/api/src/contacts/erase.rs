use application::contact::EraseContact;
use axum::extract::State;
use axum::response::Response;
use domain::id::ContactId;

use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Erase a contact's name and phone for good
///
/// Calls and approvals keep the empty contact, so that history stays whole.
#[utoipa::path(delete, path = "/v1/contacts/{id}", tag = "contacts", params(("id" = schema::Id, Path)),
    responses((status = 204, description = "Erased, now or before")))]
pub async fn erase_contact(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ContactId>,
    IdempotencyKey(key): IdempotencyKey,
) -> Result<Response, Problem> {
    carry_out(&state, &caller, key, &id, EraseContact(id), |()| Ok(Answer::empty())).await
}
