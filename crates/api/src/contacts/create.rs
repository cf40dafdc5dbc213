use application::contact::CreateContact;
use application::contact::{Belongs, NewContact};
use axum::extract::State;
use axum::response::Response;
use domain::id::{ContactId, CustomerId, SiteId};
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Contact;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::{Problem, ProblemFault};
use crate::schema;
use crate::state::ApiState;

/// Somebody to note: of a customer or of a kitchen, one of the two.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ContactCreate {
    #[schema(value_type = schema::Id)]
    id: ContactId,
    #[schema(value_type = Option<schema::Id>)]
    customer_id: Option<CustomerId>,
    #[schema(value_type = Option<schema::Id>)]
    site_id: Option<SiteId>,
    #[schema(value_type = schema::Name)]
    name: Name,
    #[schema(value_type = Option<schema::Name>)]
    phone: Option<Name>,
}

/// Note somebody to reach
#[utoipa::path(post, path = "/v1/contacts", tag = "contacts", request_body = ContactCreate,
    responses(
        (status = 201, description = "Noted", body = Contact),
        (status = 200, description = "Was there already", body = Contact),
    ))]
pub async fn create_contact(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<ContactCreate>,
) -> Result<Response, Problem> {
    let belongs = match (body.customer_id, body.site_id) {
        (Some(customer), None) => Belongs::ToCustomer(customer),
        (None, Some(site)) => Belongs::ToSite(site),
        _ => {
            let detail = "name either the customer_id or the site_id that the contact belongs to";
            return Err(Problem::invalid(vec![ProblemFault::pointer("/site_id", detail)]));
        }
    };
    let new = NewContact { id: body.id, belongs, name: body.name.clone(), phone: body.phone.clone() };
    carry_out(&state, &caller, key, &body, CreateContact(new), |created| {
        let location = format!("/v1/contacts/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Contact::from(created.item))
    })
    .await
}
