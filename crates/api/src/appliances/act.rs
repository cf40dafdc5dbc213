use std::sync::Arc;

use application::stop::ReleaseAppliance;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::ApplianceId;
use domain::text::Words;
use domain::work::{ApplianceAction, ApplianceState};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Appliance;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// How, and why, a machine may be used again.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ApplianceMove {
    /// up, degraded or down.
    #[schema(value_type = schema::ApplianceStateWord)]
    state: ApplianceState,
    /// Kept with the stops that it ends.
    #[schema(value_type = schema::Words)]
    reason: Words,
}

/// Release a machine from stop-use
///
/// The one way out of unsafe_do_not_use. A technician needs the skill that each danger asks for and, of every procedure that
/// looks for it, a healthy run after the stop and after the last action; without these a manager or an administrator releases
/// it. Nobody does while an interlock is defeated. If-Match, so that nobody releases what he has not seen.
#[utoipa::path(post, path = "/v1/appliances/{id}/actions/{action}", tag = "appliances",
    request_body = ApplianceMove,
    params(("id" = schema::Id, Path), ("action" = schema::ApplianceActionWord, Path)),
    responses((status = 200, description = "Released", body = Appliance)))]
pub async fn act_on_appliance(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((id, action)): Path<(ApplianceId, ApplianceAction)>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<ApplianceMove>,
) -> Result<Response, Problem> {
    // The only one there is.
    let ApplianceAction::Release = action;
    let request = (id, expected_version, &body);
    let use_case = ReleaseAppliance {
        versions: Arc::clone(state.application.versions()),
        id,
        expected_version,
        state: body.state,
        reason: body.reason.clone(),
    };
    carry_out(&state, &caller, key, &request, use_case, |appliance| {
        let version = appliance.version;
        Ok(Answer::json(StatusCode::OK, &Appliance::from(appliance))?.versioned(version))
    })
    .await
}
