use application::work_order::{Filter, ListWorkOrders};
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, CallId, PersonId, SiteId, WorkOrderId};
use domain::work::{OrderKind, OrderState, Outcome};
use serde::Serialize;
use utoipa::ToSchema;

use super::view::WorkOrder;
use crate::answer;
use crate::extract::{Listing, Query, list_query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

list_query!(WorkOrdersQuery {
    /// Orders of this site.
    #[param(value_type = schema::Id, nullable = false, required = false)]
    site_id: Option<SiteId>,
    /// Orders of this appliance.
    #[param(value_type = schema::Id, nullable = false, required = false)]
    appliance_id: Option<ApplianceId>,
    /// Orders that this call opened.
    #[param(value_type = schema::Id, nullable = false, required = false)]
    call_id: Option<CallId>,
    /// Orders that follow this one.
    #[param(value_type = schema::Id, nullable = false, required = false)]
    follows_id: Option<WorkOrderId>,
    /// Orders that this person is sent to.
    #[param(value_type = schema::Id, nullable = false, required = false)]
    person_id: Option<PersonId>,
    /// Orders in this state.
    #[param(value_type = schema::OrderStateWord, nullable = false, required = false)]
    state: Option<OrderState>,
    /// Orders of this kind.
    #[param(value_type = schema::OrderKindWord, nullable = false, required = false)]
    kind: Option<OrderKind>,
    /// Orders that ended so.
    #[param(value_type = schema::OutcomeWord, nullable = false, required = false)]
    outcome: Option<Outcome>,
    /// True: not yet ended. False: ended.
    #[param(nullable = false)]
    open: Option<bool>,
});

/// A page of orders.
#[derive(Serialize, ToSchema)]
pub struct WorkOrderPage {
    #[schema(max_items = 200)]
    items: Vec<WorkOrder>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// List orders
///
/// A technician sees those that he is sent to.
#[utoipa::path(get, path = "/v1/work-orders", tag = "work orders", params(WorkOrdersQuery),
    responses((status = 200, description = "A page of them", body = WorkOrderPage)))]
pub async fn list_work_orders(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<WorkOrdersQuery>,
) -> Result<Response, Problem> {
    let filter = Filter {
        site: query.site_id,
        appliance: query.appliance_id,
        call: query.call_id,
        follows: query.follows_id,
        person: query.person_id,
        state: query.state,
        kind: query.kind,
        outcome: query.outcome,
        open: query.open,
    };
    let question = ListWorkOrders { filter, page: query.page_request(&state.cursor_key)? };
    let page = state.application.ask(&caller, question).await?;
    let cursor = query.cursor_after(&state.cursor_key, &page)?;
    answer::json(&WorkOrderPage { items: page.items.into_iter().map(WorkOrder::from).collect(), cursor })
}
