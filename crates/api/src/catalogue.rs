//! The catalogue: models, test procedures, and the lists in which everybody speaks of a fault.

mod model_shape;
mod models;
mod procedure_shape;
mod procedures;
mod terms;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub use model_shape::FunctionalLimit;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(models::list_models, models::create_model))
        .routes(routes!(models::get_model))
        .routes(routes!(models::get_model_version))
        .routes(routes!(procedures::list_procedures, procedures::create_procedure))
        .routes(routes!(procedures::get_procedure))
        .routes(routes!(procedures::get_procedure_version))
        .routes(routes!(terms::list_terms, terms::create_term))
}
