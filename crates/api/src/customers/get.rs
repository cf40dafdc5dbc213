use application::customer::GetCustomer;
use axum::extract::State;
use axum::response::Response;
use domain::id::CustomerId;

use super::view::Customer;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a customer
#[utoipa::path(get, path = "/v1/customers/{id}", tag = "customers", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The customer", body = Customer)))]
pub async fn get_customer(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<CustomerId>,
) -> Result<Response, Problem> {
    let customer = state.application.ask(&caller, GetCustomer(id)).await?;
    let version = customer.version;
    answer::item(&Customer::from(customer), version)
}
