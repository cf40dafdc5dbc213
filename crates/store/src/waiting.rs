//! What an order waits for, beside its state.

use chrono::{DateTime, Utc};
use domain::id::{WaitingId, WorkOrderId};
use domain::time::Timestamp;
use domain::work::WaitingReason;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_option};
use crate::{Creation, Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewWaiting {
    pub id: WaitingId,
    pub work_order: WorkOrderId,
    pub reason: WaitingReason,
    pub from_at: Option<Timestamp>,
    pub pauses_clock: bool,
}

#[derive(Debug, Clone)]
pub struct Waiting {
    pub id: WaitingId,
    pub work_order: WorkOrderId,
    pub reason: WaitingReason,
    pub from_at: Timestamp,
    pub to_at: Option<Timestamp>,
    pub pauses_clock: bool,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    work_order_id: Uuid,
    reason: String,
    from_at: DateTime<Utc>,
    to_at: Option<DateTime<Utc>>,
    pauses_clock: bool,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Waiting {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(row.id, "waiting", "id", id)?,
            work_order: stored(row.work_order_id, "waiting", "work_order_id", id)?,
            reason: stored(row.reason, "waiting", "reason", id)?,
            from_at: stored(row.from_at, "waiting", "from_at", id)?,
            to_at: stored_option(row.to_at, "waiting", "to_at", id)?,
            pauses_clock: row.pauses_clock,
            version: row.version,
            created_at: stored(row.created_at, "waiting", "created_at", id)?,
        })
    }
}

macro_rules! waitings {
    ($connection:expr, $condition:literal, $parameter:expr) => {
        sqlx::query_as!(
            Row,
            "SELECT id, work_order_id, reason, from_at, to_at, pauses_clock, version, created_at FROM waiting WHERE "
                + $condition,
            $parameter
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(Waiting::try_from)
        .readable::<Vec<_>>()?
    };
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewWaiting, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM waiting WHERE id = $1",
        sqlx::query!(
            "INSERT INTO waiting (id, work_order_id, reason, from_at, pauses_clock, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            new.reason.word(),
            new.from_at.map_or(now, Timestamp::instant),
            new.pauses_clock,
            hash,
            now,
        )
    ))
}

/// Ends it if the version is still `version`; returns whether it was.
pub async fn end(
    unit: &mut UnitOfWork,
    id: WaitingId,
    to_at: Timestamp,
    version: i64,
) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE waiting SET to_at = $3, version = version + 1 WHERE id = $1 AND version = $2",
        id.uuid(),
        version,
        to_at.instant()
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// Ends all that an order waits for, now; returns which.
pub async fn end_all(unit: &mut UnitOfWork, order: WorkOrderId) -> Result<Vec<WaitingId>, StoreError> {
    let now = unit.now().instant();
    let ended = sqlx::query_scalar!(
        "UPDATE waiting SET to_at = greatest(from_at, $2), version = version + 1
         WHERE work_order_id = $1 AND to_at IS NULL RETURNING id",
        order.uuid(),
        now
    )
    .fetch_all(unit.connection())
    .await?;
    ended.into_iter().map(|id| stored(id, "waiting", "id", id)).collect()
}

/// Ends what an order waits for by this reason, now; returns which.
pub async fn end_of_reason(
    unit: &mut UnitOfWork,
    order: WorkOrderId,
    reason: WaitingReason,
) -> Result<Vec<WaitingId>, StoreError> {
    let now = unit.now().instant();
    let ended = sqlx::query_scalar!(
        "UPDATE waiting SET to_at = greatest(from_at, $2), version = version + 1
         WHERE work_order_id = $1 AND reason = $3 AND to_at IS NULL RETURNING id",
        order.uuid(),
        now,
        reason.word()
    )
    .fetch_all(unit.connection())
    .await?;
    ended.into_iter().map(|id| stored(id, "waiting", "id", id)).collect()
}

pub async fn get(unit: &mut UnitOfWork, id: WaitingId) -> Result<Option<Waiting>, StoreError> {
    Ok(waitings!(unit.connection(), "id = $1", id.uuid()).pop())
}

pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<Waiting>, StoreError> {
    Ok(waitings!(database.pool(), "work_order_id = $1 ORDER BY from_at, id", order.uuid()))
}
