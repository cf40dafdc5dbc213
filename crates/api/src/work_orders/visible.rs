use application::Caller;
use domain::id::WorkOrderId;

use crate::problem::Problem;
use crate::state::ApiState;

/// 404 unless the caller may see the order: what lies below it is shown to whoever sees it.
pub(crate) async fn require_visible(
    state: &ApiState,
    caller: &Caller,
    id: WorkOrderId,
) -> Result<(), Problem> {
    let order = store::work_order::find(state.application.database(), &caller.read_scope(), id).await?;
    order.map(|_| ()).ok_or_else(|| Problem::not_found("work order"))
}
