//! People to reach at a customer or a kitchen.

mod create;
mod erase;
mod get;
mod list;
mod update;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(list::list_contacts, create::create_contact)).routes(routes!(
        get::get_contact,
        update::update_contact,
        erase::erase_contact
    ))
}
