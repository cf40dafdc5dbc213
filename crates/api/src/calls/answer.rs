use application::call::AnswerCall;
use application::call::NewAnswer;
use axum::extract::State;
use axum::response::Response;
use domain::id::{CallAnswerId, CallId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::CallIntake;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A question that was asked by ringing back, and what was said to it.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CallAnswerCreate {
    #[schema(value_type = schema::Id)]
    id: CallAnswerId,
    #[schema(value_type = schema::Key)]
    question: Key,
    #[schema(value_type = schema::Words)]
    answer: Words,
    /// Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    answered_at: Option<Timestamp>,
}

/// Keep what was answered by ringing back
///
/// It counts for the diagnosis as what was said in the call does. Asked again, the last answer counts.
#[utoipa::path(post, path = "/v1/calls/{id}/answers", tag = "calls", request_body = CallAnswerCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Kept", body = CallIntake),
        (status = 200, description = "Was kept already", body = CallIntake),
    ))]
pub async fn create_call_answer(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(call): Path<CallId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<CallAnswerCreate>,
) -> Result<Response, Problem> {
    let request = (call, &body);
    let new = NewAnswer {
        id: body.id,
        call,
        question: body.question.clone(),
        answer: body.answer.clone(),
        answered_at: body.answered_at,
    };
    carry_out(&state, &caller, key, &request, AnswerCall(new), |created| {
        let location = format!("/v1/calls/{}", created.item.call.id);
        Answer::created(created.is_new, location, 1, &CallIntake::from(created.item))
    })
    .await
}
