use application::waiting::EndWaiting;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::WaitingId;
use domain::time::Timestamp;
use domain::work::WaitingAction;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Waiting;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// When the waiting ended.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WaitingMove {
    /// Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    at: Option<Timestamp>,
}

/// Note that an order no longer waits for something
#[utoipa::path(post, path = "/v1/waiting/{id}/actions/{action}", tag = "work orders", request_body = WaitingMove,
    params(("id" = schema::Id, Path), ("action" = schema::WaitingActionWord, Path)),
    responses((status = 200, description = "Ended", body = Waiting)))]
pub async fn act_on_waiting(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((id, action)): Path<(WaitingId, WaitingAction)>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<WaitingMove>,
) -> Result<Response, Problem> {
    // The only one there is.
    let WaitingAction::End = action;
    let request = (id, expected_version, &body);
    let use_case = EndWaiting { id, expected_version, at: body.at };
    carry_out(&state, &caller, key, &request, use_case, |waiting| {
        let version = waiting.version;
        Ok(Answer::json(StatusCode::OK, &Waiting::from(waiting))?.versioned(version))
    })
    .await
}
