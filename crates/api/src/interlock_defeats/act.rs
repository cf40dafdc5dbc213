use application::interlock_defeat::RemoveInterlockDefeat;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::InterlockDefeatId;
use domain::time::Timestamp;
use domain::work::InterlockAction;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::InterlockDefeat;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// When the interlock worked again.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InterlockDefeatMove {
    /// Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    at: Option<Timestamp>,
}

/// Record that an interlock works again
///
/// Late is always allowed, and it takes no If-Match: what matters is that the defeat is off.
#[utoipa::path(post, path = "/v1/interlock-defeats/{id}/actions/{action}", tag = "work orders",
    request_body = InterlockDefeatMove,
    params(("id" = schema::Id, Path), ("action" = schema::InterlockActionWord, Path)),
    responses((status = 200, description = "Removed", body = InterlockDefeat)))]
pub async fn act_on_interlock_defeat(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((id, action)): Path<(InterlockDefeatId, InterlockAction)>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<InterlockDefeatMove>,
) -> Result<Response, Problem> {
    // The only one there is.
    let InterlockAction::Remove = action;
    let request = (id, &body);
    let use_case = RemoveInterlockDefeat { id, at: body.at };
    carry_out(&state, &caller, key, &request, use_case, |defeat| {
        let version = defeat.version;
        Ok(Answer::json(StatusCode::OK, &InterlockDefeat::from(defeat))?.versioned(version))
    })
    .await
}
