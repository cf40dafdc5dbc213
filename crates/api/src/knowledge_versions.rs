//! Knowledge versions: learning from what was read, asked for and followed to its end.

mod create;
mod faults;
mod get;
mod list;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_knowledge_versions, create::create_knowledge_version))
        .routes(routes!(get::get_knowledge_version))
        .routes(routes!(faults::get_learned_faults))
}
