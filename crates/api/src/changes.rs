//! The change feed, by pages and as it happens.

mod address;
mod cursor;
mod follow;
mod followers;
mod list;

pub use followers::Followers;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(list::list_changes)).routes(routes!(follow::follow_changes))
}
