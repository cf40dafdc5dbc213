use application::catalogue::{
    CreateFaultCatalogue, Entry, GetFaultCatalogue, GetFaultCatalogueVersion, Kept,
};
use axum::extract::State;
use axum::response::Response;
use domain::equipment;
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use super::fault_shape::FaultCatalogue;
use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A version of a model's catalogue of faults as it is kept.
#[derive(Serialize, ToSchema)]
pub struct CatalogueOfFaults {
    #[schema(value_type = FaultCatalogue)]
    catalogue: equipment::FaultCatalogue,
    /// Comes with the service; the others are the company's own.
    built_in: bool,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<Kept<equipment::FaultCatalogue>> for CatalogueOfFaults {
    fn from(kept: Kept<equipment::FaultCatalogue>) -> Self {
        Self { catalogue: kept.entry, built_in: kept.built_in, created_at: kept.created_at }
    }
}

/// Read the newest catalogue of a model's faults
#[utoipa::path(get, path = "/v1/fault-catalogues/{model}", tag = "catalogue",
    params(("model" = schema::Key, Path)),
    responses((status = 200, description = "The newest version", body = CatalogueOfFaults)))]
pub async fn get_fault_catalogue(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(model): Path<Key>,
) -> Result<Response, Problem> {
    let entry = Entry { key: model, version: None };
    let kept = state.application.ask(&caller, GetFaultCatalogue(entry)).await?;
    answer::hashed(&CatalogueOfFaults::from(kept))
}

/// Read a version of the catalogue of a model's faults
#[utoipa::path(get, path = "/v1/fault-catalogues/{model}/versions/{version}", tag = "catalogue",
    params(("model" = schema::Key, Path), ("version" = u32, Path, minimum = 1, maximum = 2_147_483_647)),
    responses((status = 200, description = "The version, which never changes", body = CatalogueOfFaults)))]
pub async fn get_fault_catalogue_version(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((model, version)): Path<(Key, u32)>,
) -> Result<Response, Problem> {
    let entry = Entry { key: model, version: Some(version) };
    let kept = state.application.ask(&caller, GetFaultCatalogueVersion(entry)).await?;
    answer::hashed(&CatalogueOfFaults::from(kept))
}

/// Take a version of the catalogue of a model's faults in
///
/// The first of a company's own model, or the next of a known one; the whole of it, because its numbers hang
/// together. A fault that changed carries its next version, one that did not is repeated as it is. Diagnoses
/// compute with the newest. All that is wrong with it is told at once.
#[utoipa::path(post, path = "/v1/fault-catalogues", tag = "catalogue", request_body = FaultCatalogue,
    responses(
        (status = 201, description = "Taken in", body = CatalogueOfFaults),
        (status = 200, description = "Was there already", body = CatalogueOfFaults),
    ))]
pub async fn create_fault_catalogue(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<equipment::FaultCatalogue>,
) -> Result<Response, Problem> {
    let use_case = CreateFaultCatalogue(body.clone());
    carry_out(&state, &caller, key, &body, use_case, |created| {
        let (model, version) = (created.item.entry.model.clone(), created.item.entry.version);
        let location = format!("/v1/fault-catalogues/{model}/versions/{version}");
        Answer::created(created.is_new, location, version.into(), &CatalogueOfFaults::from(created.item))
    })
    .await
}
