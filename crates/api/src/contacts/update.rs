use application::contact::UpdateContact;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::ContactId;
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Contact;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of a contact (RFC 7396): an absent field stays, null empties the phone.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ContactPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Name, required = false)]
    name: Option<Name>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<schema::Name>)]
    phone: Option<Option<Name>>,
}

/// Change a contact
#[utoipa::path(patch, path = "/v1/contacts/{id}", tag = "contacts", params(("id" = schema::Id, Path)),
    request_body(content = ContactPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "Changed", body = Contact)))]
pub async fn update_contact(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ContactId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<ContactPatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdateContact { id, expected_version, name: body.name.clone(), phone: body.phone.clone() };
    carry_out(&state, &caller, key, &request, use_case, |contact| {
        let version = contact.version;
        Ok(Answer::json(StatusCode::OK, &Contact::from(contact))?.versioned(version))
    })
    .await
}
