//! People of the service company.

mod create;
mod get;
mod list;
mod me;
mod update;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(me::get_me))
        .routes(routes!(list::list_people, create::create_person))
        .routes(routes!(get::get_person, update::update_person))
}
