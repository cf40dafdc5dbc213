use application::visit::MoveVisit;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::VisitId;
use domain::text::Words;
use domain::time::Timestamp;
use domain::work::{ApplianceState, VisitAction, VisitResult};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Visit;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What a step of a visit says besides its name.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct VisitMove {
    /// When it happened; now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    at: Option<Timestamp>,
    /// With leave: what the visit came to.
    #[schema(value_type = Option<schema::VisitResultWord>)]
    result: Option<VisitResult>,
    /// With leave: in which state the machine is left. Needed from whoever saw it.
    #[schema(value_type = Option<schema::ApplianceStateWord>)]
    appliance_state: Option<ApplianceState>,
    /// Kept in the audit trail.
    #[schema(value_type = Option<schema::Words>)]
    why: Option<Words>,
}

/// Take a step of a visit
///
/// set_out, arrive, leave with a result; or miss, or call_off. Setting out may be left out. Leaving a machine under stop-use, or
/// with an interlock that is still defeated, is kept and leaves it unsafe_do_not_use, whatever is said; the answer says so.
#[utoipa::path(post, path = "/v1/visits/{id}/actions/{action}", tag = "visits", request_body = VisitMove,
    params(("id" = schema::Id, Path), ("action" = schema::VisitActionWord, Path)),
    responses((status = 200, description = "Taken", body = Visit)))]
pub async fn act_on_visit(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((id, action)): Path<(VisitId, VisitAction)>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<VisitMove>,
) -> Result<Response, Problem> {
    let request = (id, action, expected_version, &body);
    let use_case = MoveVisit {
        id,
        expected_version,
        action,
        at: body.at,
        result: body.result,
        appliance_state: body.appliance_state,
        why: body.why.as_ref().map(ToString::to_string),
    };
    carry_out(&state, &caller, key, &request, use_case, |moved| {
        let version = moved.visit.version;
        let visit = Visit::from(moved.visit).with_machine(moved.stands);
        Ok(Answer::json(StatusCode::OK, &visit)?.versioned(version))
    })
    .await
}
