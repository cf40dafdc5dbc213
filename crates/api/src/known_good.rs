//! What healthy machines read, which readings are out of it, and who drifts.

mod create_removal;
mod drift;
mod get_removal;
mod list;
mod list_removals;
mod reference;
mod removal;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_known_good))
        .routes(routes!(list_removals::list_known_good_removals, create_removal::create_known_good_removal))
        .routes(routes!(get_removal::get_known_good_removal))
        .routes(routes!(drift::get_appliance_drift))
}
