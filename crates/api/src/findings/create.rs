use application::finding::CreateFinding;
use application::finding::NewFinding;
use axum::extract::State;
use axum::response::Response;
use domain::id::{FindingId, TestRunId, WorkOrderId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Finding;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What somebody confirmed of a position.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FindingCreate {
    #[schema(value_type = schema::Id)]
    id: FindingId,
    #[schema(value_type = schema::Key)]
    position: Key,
    /// The fault that it is, in the catalogue of the machine's model.
    #[serde(default)]
    fault: Option<FaultVersion>,
    #[schema(value_type = schema::ConditionWord)]
    finding: Key,
    /// In which manner it fails; with degraded and failed.
    #[schema(value_type = Option<schema::Key>)]
    failure_mode: Option<Key>,
    #[schema(value_type = Option<schema::Key>)]
    mechanism: Option<Key>,
    #[schema(value_type = Option<schema::Key>)]
    cause: Option<Key>,
    /// How it was found.
    #[schema(value_type = schema::EvidenceWord)]
    evidence: Key,
    #[schema(value_type = Option<schema::Words>)]
    note: Option<Words>,
    /// The runs that it rests on.
    #[serde(default)]
    #[schema(value_type = Vec<schema::Id>, max_items = 200, required = false)]
    test_run_ids: Vec<TestRunId>,
    #[schema(value_type = schema::Instant)]
    found_at: Timestamp,
    /// The finding that this one corrects.
    #[schema(value_type = Option<schema::Id>)]
    supersedes_id: Option<FindingId>,
    /// Takes the superseded finding back altogether.
    #[schema(value_type = Option<schema::Words>)]
    retraction_reason: Option<Words>,
}

/// One version of a fault of the catalogue.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FaultVersion {
    #[schema(value_type = schema::Key)]
    key: Key,
    #[schema(minimum = 1, maximum = 1_000_000)]
    version: u32,
}

/// Keep a finding
///
/// What the readings propose, a person confirms. A finding that was wrong is superseded, or retracted with a reason.
#[utoipa::path(post, path = "/v1/work-orders/{id}/findings", tag = "findings", request_body = FindingCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Kept", body = Finding),
        (status = 200, description = "Was kept already", body = Finding),
    ))]
pub async fn create_finding(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<FindingCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewFinding {
        id: body.id,
        work_order,
        position: body.position.clone(),
        fault: body.fault.as_ref().map(|fault| (fault.key.clone(), fault.version)),
        finding: body.finding.clone(),
        failure_mode: body.failure_mode.clone(),
        mechanism: body.mechanism.clone(),
        cause: body.cause.clone(),
        evidence: body.evidence.clone(),
        note: body.note.clone(),
        test_runs: body.test_run_ids.clone(),
        found_at: body.found_at,
        supersedes: body.supersedes_id,
        retraction_reason: body.retraction_reason.clone(),
    };
    carry_out(&state, &caller, key, &request, CreateFinding(new), |created| {
        let location = format!("/v1/work-orders/{}/findings", created.item.work_order);
        Answer::created(created.is_new, location, 1, &Finding::from(created.item))
    })
    .await
}
