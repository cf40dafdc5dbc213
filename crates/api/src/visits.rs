//! Visits: who goes when, and what came of it.

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
        .routes(routes!(list::list_work_order_visits, create::create_visit))
        .routes(routes!(get::get_visit, update::update_visit))
        .routes(routes!(act::act_on_visit))
}
