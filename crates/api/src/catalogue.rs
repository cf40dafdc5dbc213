//! The catalogue: models, test procedures, faults, and the lists in which everybody speaks of a fault.

mod drafts;
mod fault_catalogues;
mod fault_shape;
mod faults;
mod model_shape;
mod models;
mod procedure_shape;
mod procedures;
mod terms;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub use fault_shape::FaultCatalogue;
pub use model_shape::FunctionalLimit;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(models::list_models, models::create_model))
        .routes(routes!(models::get_model))
        .routes(routes!(models::get_model_version))
        .routes(routes!(procedures::list_procedures, procedures::create_procedure))
        .routes(routes!(procedures::get_procedure))
        .routes(routes!(procedures::get_procedure_version))
        .routes(routes!(faults::list_faults))
        .routes(routes!(faults::get_fault))
        .routes(routes!(faults::get_fault_version))
        .routes(routes!(fault_catalogues::create_fault_catalogue))
        .routes(routes!(fault_catalogues::get_fault_catalogue))
        .routes(routes!(fault_catalogues::get_fault_catalogue_version))
        .routes(routes!(drafts::draft_model))
        .routes(routes!(terms::list_terms, terms::create_term))
}
