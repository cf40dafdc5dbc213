//! Customers: who runs the kitchens.

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
        .routes(routes!(list::list_customers, create::create_customer))
        .routes(routes!(get::get_customer, update::update_customer))
}
