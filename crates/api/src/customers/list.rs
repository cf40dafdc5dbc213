use application::customer::ListCustomers;
use axum::extract::State;
use axum::response::Response;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Customer;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::state::ApiState;

list_query!(CustomersQuery {
    /// Part of the name, or the whole external id.
    #[param(min_length = 1, max_length = 200, nullable = false)]
    search: Option<String>,
});

/// A page of customers.
#[derive(Serialize, ToSchema)]
pub struct CustomerPage {
    #[schema(max_items = 200)]
    items: Vec<Customer>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List customers
#[utoipa::path(get, path = "/v1/customers", tag = "customers", params(CustomersQuery),
    responses((status = 200, description = "A page of them", body = CustomerPage)))]
pub async fn list_customers(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<CustomersQuery>,
) -> Result<Response, Problem> {
    let question =
        ListCustomers { search: query.search.clone(), page: query.page_request(&state.cursor_key)? };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&CustomerPage { items: page.items.into_iter().map(Customer::from).collect(), cursor })
}
