//! Work orders: from the call to the closed order.

mod act;
mod actions;
mod create;
mod get;
mod list;
mod machine_correction;
mod update;
mod view;

pub(crate) use view::{Money, WorkOrder};

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_work_orders, create::create_work_order))
        .routes(routes!(get::get_work_order, update::update_work_order))
        .routes(routes!(machine_correction::create_machine_correction))
        .routes(routes!(actions::list_work_order_actions))
        .routes(routes!(act::act_on_work_order))
}
