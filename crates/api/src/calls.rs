//! Calls: what a customer says, and the orders that it opens.

mod answer;
mod create;
mod get;
mod list;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub(crate) use view::CallCaution;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_calls, create::create_call))
        .routes(routes!(get::get_call))
        .routes(routes!(answer::create_call_answer))
}
