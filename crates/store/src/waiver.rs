//! What an order does without, and why. Insert-only.

use chrono::{DateTime, Utc};
use domain::id::{PersonId, WaiverId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use domain::work::{Waived, WaiverCode};
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored};
use crate::{Creation, Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewWaiver {
    pub id: WaiverId,
    pub work_order: WorkOrderId,
    pub what: Waived,
    pub code: WaiverCode,
    pub reason: Words,
}

#[derive(Debug, Clone)]
pub struct Waiver {
    pub id: WaiverId,
    pub work_order: WorkOrderId,
    pub what: Waived,
    pub code: WaiverCode,
    pub reason: Words,
    pub given_by: PersonId,
    pub given_at: Timestamp,
}

struct Row {
    id: Uuid,
    work_order_id: Uuid,
    what: String,
    code: String,
    reason: String,
    given_by: Uuid,
    given_at: DateTime<Utc>,
}

impl TryFrom<Row> for Waiver {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "waiver", "id", id)?,
            work_order: stored(row.work_order_id, "waiver", "work_order_id", id)?,
            what: stored(row.what, "waiver", "what", id)?,
            code: stored(row.code, "waiver", "code", id)?,
            reason: stored(row.reason, "waiver", "reason", id)?,
            given_by: stored(row.given_by, "waiver", "given_by", id)?,
            given_at: stored(row.given_at, "waiver", "given_at", id)?,
        })
    }
}

macro_rules! waivers {
    ($connection:expr, $condition:literal, $parameter:expr) => {
        sqlx::query_as!(
            Row,
            "SELECT id, work_order_id, what, code, reason, given_by, given_at FROM waiver WHERE "
                + $condition,
            $parameter
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(Waiver::try_from)
        .readable::<Vec<_>>()?
    };
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewWaiver,
    given_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM waiver WHERE id = $1",
        sqlx::query!(
            "INSERT INTO waiver (id, work_order_id, what, reason, given_by, given_at, body_sha256, code)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            new.what.word(),
            new.reason.as_str(),
            given_by.uuid(),
            now,
            hash,
            new.code.word(),
        )
    ))
}

pub async fn get(unit: &mut UnitOfWork, id: WaiverId) -> Result<Option<Waiver>, StoreError> {
    Ok(waivers!(unit.connection(), "id = $1", id.uuid()).pop())
}

pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<Waiver>, StoreError> {
    Ok(waivers!(database.pool(), "work_order_id = $1 ORDER BY given_at, id", order.uuid()))
}
