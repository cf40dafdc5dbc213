//! Part lines of an order.

mod act;
mod create;
mod get;
mod list;
mod update;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_part_lines, create::create_part_line))
        .routes(routes!(get::get_part_line, update::update_part_line))
        .routes(routes!(act::act_on_part_line))
}
