//! Defeated interlocks: never alone, never without an end, never forgotten.

mod act;
mod create;
mod list;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_work_order_interlock_defeats, create::create_interlock_defeat))
        .routes(routes!(act::act_on_interlock_defeat))
}
