use application::known_good::ListKnownGood;
use axum::extract::State;
use axum::response::Response;
use domain::text::Key;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::reference::KnownGoodReference;
use crate::answer;
use crate::extract::Query;
use crate::guard::Authenticated;
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
    Authenticated(caller): Authenticated,
    Query(query): Query<KnownGoodQuery>,
) -> Result<Response, Problem> {
    let question = ListKnownGood { model: query.model, procedure: query.procedure, version: query.version };
    let known = state.application.ask(&caller, question).await?;
    let (knowledge_version, made_at) = known.version.unzip();
    let items = known.references.into_iter().map(KnownGoodReference::from).collect();
    answer::json(&KnownGoodList { knowledge_version, made_at, items })
}
