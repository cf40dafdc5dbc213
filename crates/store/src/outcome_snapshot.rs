//! What an order's verdicts were when it was closed: they are computed anew whenever they are asked for, and what
//! is learned later must not change what a closing rested on.

use domain::grading::Assessment;
use domain::id::WorkOrderId;
use serde::{Deserialize, Serialize};

use crate::{StoreError, UnitOfWork};

/// The verdicts of one epoch as they stood.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct FrozenEpoch {
    pub epoch: u32,
    /// The knowledge that healthy readings were compared with; none before anything was learned.
    pub knowledge_version: Option<i64>,
    pub assessment: Assessment,
}

/// Keeps the verdicts of all epochs of an order, oldest first. It is never changed.
pub async fn insert(
    unit: &mut UnitOfWork,
    order: WorkOrderId,
    evidence_version: i64,
    epochs: &[FrozenEpoch],
) -> Result<(), StoreError> {
    let (id, now) = (unit.next_id(), unit.now().instant());
    sqlx::query!(
        "INSERT INTO outcome_snapshot (id, work_order_id, evidence_version, payload, taken_at)
         VALUES ($1, $2, $3, $4, $5)",
        id,
        order.uuid(),
        evidence_version,
        serde_json::json!(epochs),
        now
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}
