use application::diagnosis::{FrozenEpoch, GetOutcomeSnapshot, OutcomeSnapshot};
use application::part::FittingPart;
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use super::view::Diagnosis;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;
use crate::test_runs::EpochVerdicts;

/// What an order's closing rested on. Verdicts and diagnoses are computed anew whenever they are asked for, with
/// what is known then; this never changes.
#[derive(Serialize, ToSchema)]
pub struct ClosingSnapshot {
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
    #[schema(minimum = 0)]
    evidence_version: i64,
    /// From before anything was changed to the end.
    #[schema(max_items = 10_000)]
    epochs: Vec<ClosedEpoch>,
}

#[derive(Serialize, ToSchema)]
pub struct ClosedEpoch {
    #[schema(minimum = 0)]
    epoch: u32,
    /// The knowledge that healthy readings were compared with.
    #[schema(required, minimum = 1)]
    knowledge_version: Option<i64>,
    verdicts: EpochVerdicts,
    /// Null where the model had no catalogue of faults.
    #[schema(required)]
    diagnosis: Option<Diagnosis>,
}

/// Read what an order was closed on
#[utoipa::path(get, path = "/v1/work-orders/{id}/outcome-snapshot", tag = "diagnoses",
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Verdicts and diagnoses as they stood", body = ClosingSnapshot,
        headers(("ETag" = String, description = "Changes with the answer")))))]
pub async fn get_outcome_snapshot(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let snapshot = state.application.ask(&caller, GetOutcomeSnapshot(id)).await?;
    answer::hashed(&ClosingSnapshot::new(snapshot.of, &snapshot.fitting))
}

impl ClosingSnapshot {
    fn new(snapshot: OutcomeSnapshot, fitting: &[FittingPart]) -> Self {
        let epoch = |frozen: FrozenEpoch| ClosedEpoch {
            epoch: frozen.epoch,
            knowledge_version: frozen.knowledge_version,
            verdicts: frozen.assessment.into(),
            diagnosis: frozen.diagnosis.map(|diagnosed| Diagnosis::new(diagnosed, fitting)),
        };
        Self {
            work_order_id: snapshot.work_order,
            taken_at: snapshot.taken_at,
            evidence_version: snapshot.evidence_version,
            epochs: snapshot.epochs.into_iter().map(epoch).collect(),
        }
    }
}
