use application::catalogue::{CreateModel, Entry, GetModel, GetModelVersion, Kept, ListModels};
use axum::extract::State;
use axum::response::Response;
use domain::equipment;
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use super::model_shape::Model;
use super::view::{CatalogueList, CatalogueQuery, CatalogueSummary};
use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A version of a model as it is kept.
#[derive(Serialize, ToSchema)]
pub struct CatalogueModel {
    #[schema(value_type = Model)]
    model: equipment::Model,
    /// Comes with the service; the others are the company's own.
    built_in: bool,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<Kept<equipment::Model>> for CatalogueModel {
    fn from(kept: Kept<equipment::Model>) -> Self {
        Self { model: kept.entry, built_in: kept.built_in, created_at: kept.created_at }
    }
}

/// List models
#[utoipa::path(get, path = "/v1/models", tag = "catalogue", params(CatalogueQuery),
    responses((status = 200, description = "By key", body = CatalogueList)))]
pub async fn list_models(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<CatalogueQuery>,
) -> Result<Response, Problem> {
    let kept = state.application.ask(&caller, ListModels { search: query.search }).await?;
    let items = kept.into_iter().map(|kept| CatalogueSummary {
        key: kept.entry.key,
        version: kept.entry.version,
        title: kept.entry.title,
        built_in: kept.built_in,
        created_at: kept.created_at,
    });
    answer::json(&CatalogueList { items: items.collect() })
}

/// Read the newest version of a model
#[utoipa::path(get, path = "/v1/models/{key}", tag = "catalogue", params(("key" = schema::Key, Path)),
    responses((status = 200, description = "The newest version", body = CatalogueModel)))]
pub async fn get_model(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(key): Path<Key>,
) -> Result<Response, Problem> {
    let kept = state.application.ask(&caller, GetModel(Entry { key, version: None })).await?;
    answer::hashed(&CatalogueModel::from(kept))
}

/// Read a version of a model
#[utoipa::path(get, path = "/v1/models/{key}/versions/{version}", tag = "catalogue",
    params(("key" = schema::Key, Path), ("version" = u32, Path, minimum = 1, maximum = 2_147_483_647)),
    responses((status = 200, description = "The version, which never changes", body = CatalogueModel)))]
pub async fn get_model_version(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((key, version)): Path<(Key, u32)>,
) -> Result<Response, Problem> {
    let entry = Entry { key, version: Some(version) };
    let kept = state.application.ask(&caller, GetModelVersion(entry)).await?;
    answer::hashed(&CatalogueModel::from(kept))
}

/// Take a version of a model into the catalogue
///
/// The first version of a new key, or the next of a known one. What is used never changes: a change is a
/// new version. All that is wrong with it is told at once.
#[utoipa::path(post, path = "/v1/models", tag = "catalogue", request_body = Model,
    responses(
        (status = 201, description = "Taken in", body = CatalogueModel),
        (status = 200, description = "Was there already", body = CatalogueModel),
    ))]
pub async fn create_model(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<equipment::Model>,
) -> Result<Response, Problem> {
    let use_case = CreateModel(body.clone());
    carry_out(&state, &caller, key, &body, use_case, |created| {
        let (key, version) = (created.item.entry.key.clone(), created.item.entry.version);
        let location = format!("/v1/models/{key}/versions/{version}");
        Answer::created(created.is_new, location, version.into(), &CatalogueModel::from(created.item))
    })
    .await
}
