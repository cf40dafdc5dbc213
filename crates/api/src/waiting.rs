//! What an order waits for, beside its state.

mod act;
mod create;
mod list;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_work_order_waiting, create::create_waiting))
        .routes(routes!(act::act_on_waiting))
}
