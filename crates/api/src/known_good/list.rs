use axum::extract::State;
use axum::response::Response;
use domain::text::Key;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use store::knowledge;
use utoipa::{IntoParams, ToSchema};

use super::reference::KnownGoodReference;
use crate::answer;
use crate::extract::Query;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct KnownGoodQuery {
    /// Of this model alone.
    #[param(value_type = schema::Key, required = false, nullable = false)]
    model: Option<Key>,
    /// Of this procedure alone.
    #[param(value_type = schema::Key, required = false, nullable = false)]
    procedure: Option<Key>,
    /// As an earlier knowledge version had it; the newest unless asked for.
    #[param(minimum = 1, nullable = false)]
    version: Option<i64>,
}

/// What healthy machines show.
#[derive(Serialize, ToSchema)]
pub struct KnownGoodList {
    /// Null before anything was learned.
    #[schema(required, minimum = 1)]
    knowledge_version: Option<i64>,
    #[schema(value_type = Option<schema::Instant>, required)]
    made_at: Option<Timestamp>,
    #[schema(max_items = 100_000)]
    items: Vec<KnownGoodReference>,
}

/// List known-good references
///
/// For each model and measurement the interval of the next healthy unit's reading at reference conditions,
/// with everything that one needs to judge it; or why there is none yet.
#[utoipa::path(get, path = "/v1/known-good", tag = "known good", params(KnownGoodQuery),
    responses((status = 200, description = "The references", body = KnownGoodList)))]
pub async fn list_known_good(
    State(state): State<ApiState>,
    Query(query): Query<KnownGoodQuery>,
) -> Result<Response, Problem> {
    let database = state.application.database();
    let n = match query.version {
        Some(n) => Some(n),
        None => knowledge::newest(database).await?,
    };
    let Some(n) = n else {
        return answer::json(&KnownGoodList { knowledge_version: None, made_at: None, items: Vec::new() });
    };
    let known = knowledge::get(database, n).await?.ok_or_else(|| Problem::not_found("knowledge version"))?;
    let is_wanted = |wanted: &Option<Key>, key: &Key| wanted.as_ref().is_none_or(|wanted| wanted == key);
    let items = known
        .known_good
        .into_iter()
        .filter(|learned| {
            is_wanted(&query.model, &learned.model) && is_wanted(&query.procedure, &learned.of.procedure)
        })
        .map(KnownGoodReference::from)
        .collect();
    answer::json(&KnownGoodList { knowledge_version: Some(n), made_at: Some(known.made_at), items })
}
