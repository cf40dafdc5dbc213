use application::customer::UpdateCustomer;
use axum::extract::State;
use axum::response::Response;
use domain::id::CustomerId;
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Customer;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of a customer (RFC 7396): an absent field stays, null empties it.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CustomerPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Name, required = false)]
    name: Option<Name>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<schema::Name>)]
    external_id: Option<Option<Name>>,
}

/// Change a customer
#[utoipa::path(patch, path = "/v1/customers/{id}", tag = "customers",
    request_body(content = CustomerPatch, content_type = "application/merge-patch+json"),
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Changed", body = Customer)))]
pub async fn update_customer(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<CustomerId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<CustomerPatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdateCustomer {
        id,
        expected_version,
        name: body.name.clone(),
        external_id: body.external_id.clone(),
    };
    carry_out(&state, &caller, key, &request, use_case, |customer| {
        let version = customer.version;
        Ok(Answer::json(axum::http::StatusCode::OK, &Customer::from(customer))?.versioned(version))
    })
    .await
}
