//! One search over everything that a caller on the phone can name.

mod find;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(find::search))
}
