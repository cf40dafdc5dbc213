//! Bearer tokens of a person.

mod create;
mod list;
mod revoke;

pub use create::new_secret;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_tokens, create::create_token))
        .routes(routes!(revoke::revoke_token))
}
