//! Branches of the service company.

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
        .routes(routes!(list::list_branches, create::create_branch))
        .routes(routes!(get::get_branch, update::update_branch))
}
