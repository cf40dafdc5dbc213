use application::catalogue::{
    CreateProcedure, Entry, GetProcedure, GetProcedureVersion, Kept, ListProcedures,
};
use axum::extract::State;
use axum::response::Response;
use domain::equipment::Model;
use domain::procedure;
use domain::text::Key;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::procedure_shape::Procedure;
use super::view::{CatalogueList, CatalogueQuery, CatalogueSummary};
use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A version of a procedure as it is kept.
#[derive(Serialize, ToSchema)]
pub struct CatalogueProcedure {
    /// As it was taken in, and as the next version is written from it.
    #[schema(value_type = Procedure)]
    procedure: procedure::Procedure,
    /// As a technician reads it: the places in its cautions filled, the heat of a stage behind its title; by the
    /// model asked for, else with the words that hold for any.
    #[schema(value_type = Procedure)]
    shown: procedure::Procedure,
    /// Comes with the service; the others are the company's own.
    built_in: bool,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl CatalogueProcedure {
    fn new(kept: Kept<procedure::Procedure>, model: Option<&Model>) -> Self {
        Self {
            shown: kept.entry.shown(model),
            procedure: kept.entry,
            built_in: kept.built_in,
            created_at: kept.created_at,
        }
    }
}

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ShownForQuery {
    /// Show it for this model, in its newest version.
    #[param(value_type = Option<schema::Key>, nullable = false)]
    model: Option<Key>,
}

/// List test procedures
#[utoipa::path(get, path = "/v1/procedures", tag = "catalogue", params(CatalogueQuery),
    responses((status = 200, description = "By key", body = CatalogueList)))]
pub async fn list_procedures(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<CatalogueQuery>,
) -> Result<Response, Problem> {
    let kept = state.application.ask(&caller, ListProcedures { search: query.search }).await?;
    let items = kept.into_iter().map(|kept| CatalogueSummary {
        key: kept.entry.key,
        version: kept.entry.version,
        title: kept.entry.title,
        built_in: kept.built_in,
        created_at: kept.created_at,
    });
    answer::json(&CatalogueList { items: items.collect() })
}

/// Read the newest version of a procedure
#[utoipa::path(get, path = "/v1/procedures/{key}", tag = "catalogue", 
    params(("key" = schema::Key, Path), ShownForQuery),
    responses((status = 200, description = "The newest version", body = CatalogueProcedure)))]
pub async fn get_procedure(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(key): Path<Key>,
    Query(query): Query<ShownForQuery>,
) -> Result<Response, Problem> {
    let entry = Entry { key, version: None };
    let shown = state.application.ask(&caller, GetProcedure { entry, model: query.model }).await?;
    answer::hashed(&CatalogueProcedure::new(shown.kept, shown.model.as_ref()))
}

/// Read a version of a procedure
#[utoipa::path(get, path = "/v1/procedures/{key}/versions/{version}", tag = "catalogue",
    params(("key" = schema::Key, Path), ("version" = u32, Path, minimum = 1, maximum = 2_147_483_647),
        ShownForQuery),
    responses((status = 200, description = "The version, which never changes", body = CatalogueProcedure)))]
pub async fn get_procedure_version(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((key, version)): Path<(Key, u32)>,
    Query(query): Query<ShownForQuery>,
) -> Result<Response, Problem> {
    let entry = Entry { key, version: Some(version) };
    let shown = state.application.ask(&caller, GetProcedureVersion { entry, model: query.model }).await?;
    answer::hashed(&CatalogueProcedure::new(shown.kept, shown.model.as_ref()))
}

/// Take a version of a procedure into the catalogue
///
/// The first version of a new key, or the next of a known one. What is used never changes: a change is a
/// new version. All that is wrong with it is told at once.
#[utoipa::path(post, path = "/v1/procedures", tag = "catalogue", request_body = Procedure,
    responses(
        (status = 201, description = "Taken in", body = CatalogueProcedure),
        (status = 200, description = "Was there already", body = CatalogueProcedure),
    ))]
pub async fn create_procedure(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<procedure::Procedure>,
) -> Result<Response, Problem> {
    let use_case = CreateProcedure(body.clone());
    carry_out(&state, &caller, key, &body, use_case, |created| {
        let (key, version) = (created.item.entry.key.clone(), created.item.entry.version);
        let location = format!("/v1/procedures/{key}/versions/{version}");
        Answer::created(
            created.is_new,
            location,
            version.into(),
            &CatalogueProcedure::new(created.item, None),
        )
    })
    .await
}
