//! Quotes, and what the customer says to them.

mod approval;
mod quote;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(quote::list_quotes, quote::create_quote))
        .routes(routes!(approval::list_approvals, approval::create_approval))
}
