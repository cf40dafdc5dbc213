use application::work_order::GetWorkOrder;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;

use super::view::WorkOrder;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read an order
#[utoipa::path(get, path = "/v1/work-orders/{id}", tag = "work orders", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The order", body = WorkOrder)))]
pub async fn get_work_order(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let order = state.application.ask(&caller, GetWorkOrder(id)).await?;
    let version = order.version;
    answer::item(&WorkOrder::from(order), version)
}
