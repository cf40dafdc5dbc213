//! Parts: what can be ordered and fitted.

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
        .routes(routes!(list::list_parts, create::create_part))
        .routes(routes!(get::get_part, update::update_part))
}
