use application::customer::CreateCustomer;
use application::customer::NewCustomer;
use axum::extract::State;
use axum::response::Response;
use domain::id::CustomerId;
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Customer;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A customer to take in.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CustomerCreate {
    #[schema(value_type = schema::Id)]
    id: CustomerId,
    #[schema(value_type = schema::Name)]
    name: Name,
    #[schema(value_type = Option<schema::Name>)]
    external_id: Option<Name>,
}

/// Take a customer in
///
/// The same id and body again is answered 200 and changes nothing.
#[utoipa::path(post, path = "/v1/customers", tag = "customers", request_body = CustomerCreate,
    responses(
        (status = 201, description = "Taken in", body = Customer),
        (status = 200, description = "Was there already", body = Customer),
    ))]
pub async fn create_customer(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<CustomerCreate>,
) -> Result<Response, Problem> {
    let new = NewCustomer { id: body.id, name: body.name.clone(), external_id: body.external_id.clone() };
    carry_out(&state, &caller, key, &body, CreateCustomer(new), |created| {
        let location = format!("/v1/customers/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Customer::from(created.item))
    })
    .await
}
