use application::visit::UpdateVisit;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::{PersonId, VisitId};
use domain::text::Words;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Visit;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of a visit (RFC 7396): an absent field stays.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct VisitPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Instant, required = false)]
    planned_at: Option<Timestamp>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Vec<schema::Id>, min_items = 1, max_items = 10, required = false)]
    people: Option<Vec<PersonId>>,
    /// Why somebody is sent who is booked in another kitchen within two hours of that time.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Words, required = false)]
    overlap_reason: Option<Words>,
}

/// Change when a visit is planned, or who is sent
#[utoipa::path(patch, path = "/v1/visits/{id}", tag = "visits",
    request_body(content = VisitPatch, content_type = "application/merge-patch+json"),
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Changed", body = Visit)))]
pub async fn update_visit(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<VisitId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<VisitPatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdateVisit {
        id,
        expected_version,
        planned_at: body.planned_at,
        people: body.people.clone(),
        overlap_reason: body.overlap_reason.clone(),
    };
    carry_out(&state, &caller, key, &request, use_case, |visit| {
        let version = visit.version;
        Ok(Answer::json(StatusCode::OK, &Visit::from(visit))?.versioned(version))
    })
    .await
}
