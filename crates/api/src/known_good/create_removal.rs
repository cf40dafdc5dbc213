use application::known_good::NewRemoval;
use application::known_good::RemoveFromKnownGood;
use axum::extract::State;
use axum::response::Response;
use domain::id::{KnownGoodRemovalId, TestRunId};
use domain::known_good::selection::RemovalReason;
use domain::text::{Key, Words};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::removal::KnownGoodRemoval;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A reading to take out of the references, or back in.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct KnownGoodRemovalCreate {
    #[schema(value_type = schema::Id)]
    id: KnownGoodRemovalId,
    #[schema(value_type = schema::Id)]
    test_run_id: TestRunId,
    /// The step of the run whose reading it is.
    #[schema(value_type = schema::Key)]
    step: Key,
    /// Null takes an earlier removal back.
    #[schema(value_type = Option<schema::RemovalReasonWord>, required)]
    reason: Option<RemovalReason>,
    #[schema(value_type = Option<schema::Words>)]
    note: Option<Words>,
}

/// Take a reading out of the references
///
/// Nothing is erased: the newest entry of a reading holds, and one without a reason takes it back in. It
/// shows in the next knowledge version, and at once in the appliance's own references and charts.
#[utoipa::path(post, path = "/v1/known-good/removals", tag = "known good", request_body = KnownGoodRemovalCreate,
    responses(
        (status = 201, description = "Entered", body = KnownGoodRemoval),
        (status = 200, description = "Was entered already", body = KnownGoodRemoval),
    ))]
pub async fn create_known_good_removal(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<KnownGoodRemovalCreate>,
) -> Result<Response, Problem> {
    let new = NewRemoval {
        id: body.id,
        test_run: body.test_run_id,
        step: body.step.clone(),
        reason: body.reason,
        note: body.note.clone(),
    };
    carry_out(&state, &caller, key, &body, RemoveFromKnownGood(new), |created| {
        let location = format!("/v1/known-good/removals/{}", created.item.id);
        Answer::created(created.is_new, location, 1, &KnownGoodRemoval::from(created.item))
    })
    .await
}
