//! What an order's verdicts and diagnoses were when it was closed: they are computed anew whenever they are asked
//! for, and what is learned later must not change what a closing rested on.

use domain::grading::Assessment;
use domain::id::WorkOrderId;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use sqlx::types::Json;

use crate::diagnosis::Diagnosed;
use crate::error::{stored, stored_json};
use crate::{Database, StoreError, UnitOfWork};

/// The verdicts and the diagnosis of one epoch as they stood.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct FrozenEpoch {
    pub epoch: u32,
    /// The knowledge that healthy readings were compared with; none before anything was learned.
    pub knowledge_version: Option<i64>,
    pub assessment: Assessment,
    /// None where there was no catalogue to diagnose with.
    #[serde(default)]
    pub diagnosis: Option<Diagnosed>,
}

/// What is kept of a closing.
#[derive(Debug, Clone)]
pub struct OutcomeSnapshot {
    pub work_order: WorkOrderId,
    pub evidence_version: i64,
    pub epochs: Vec<FrozenEpoch>,
    pub taken_at: Timestamp,
}

/// Keeps verdicts and diagnoses of all epochs of an order, oldest first. It is never changed.
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
        Json(epochs) as _,
        now
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// What was kept when the order was closed; none before that, or where nobody knew the machine.
pub async fn of_order(
    database: &Database,
    order: WorkOrderId,
) -> Result<Option<OutcomeSnapshot>, StoreError> {
    const TABLE: &str = "outcome_snapshot";
    let row = sqlx::query!(
        "SELECT evidence_version, payload, taken_at FROM outcome_snapshot WHERE work_order_id = $1
         ORDER BY taken_at DESC LIMIT 1",
        order.uuid()
    )
    .fetch_optional(database.pool())
    .await?;
    row.map(|row| {
        Ok(OutcomeSnapshot {
            work_order: order,
            evidence_version: row.evidence_version,
            epochs: stored_json(row.payload, TABLE, "payload", order)?,
            taken_at: stored(row.taken_at, TABLE, "taken_at", order)?,
        })
    })
    .transpose()
}
