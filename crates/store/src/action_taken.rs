//! What was done to a machine. Each action that changes it begins a new epoch of evidence.

use chrono::{DateTime, Utc};
use domain::id::{ActionTakenId, PartLineId, PersonId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_option};
use crate::{Creation, Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewActionTaken {
    pub id: ActionTakenId,
    pub work_order: WorkOrderId,
    pub position: Key,
    pub action: Key,
    pub part_line: Option<PartLineId>,
    pub expires_at: Option<Timestamp>,
    pub taken_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct ActionTaken {
    pub id: ActionTakenId,
    pub work_order: WorkOrderId,
    pub position: Key,
    pub action: Key,
    pub part_line: Option<PartLineId>,
    pub expires_at: Option<Timestamp>,
    pub taken_by: PersonId,
    pub taken_at: Timestamp,
}

struct Row {
    id: Uuid,
    work_order_id: Uuid,
    position: String,
    action: String,
    part_line_id: Option<Uuid>,
    expires_at: Option<DateTime<Utc>>,
    taken_by: Uuid,
    taken_at: DateTime<Utc>,
}

impl TryFrom<Row> for ActionTaken {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "action_taken", "id", id)?,
            work_order: stored(row.work_order_id, "action_taken", "work_order_id", id)?,
            position: stored(row.position, "action_taken", "position", id)?,
            action: stored(row.action, "action_taken", "action", id)?,
            part_line: stored_option(row.part_line_id, "action_taken", "part_line_id", id)?,
            expires_at: stored_option(row.expires_at, "action_taken", "expires_at", id)?,
            taken_by: stored(row.taken_by, "action_taken", "taken_by", id)?,
            taken_at: stored(row.taken_at, "action_taken", "taken_at", id)?,
        })
    }
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewActionTaken,
    taken_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM action_taken WHERE id = $1",
        sqlx::query!(
            "INSERT INTO action_taken (id, work_order_id, position, action, part_line_id, expires_at, taken_by,
                 taken_at, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            new.position.as_str(),
            new.action.as_str(),
            new.part_line.map(PartLineId::uuid),
            new.expires_at.map(Timestamp::instant),
            taken_by.uuid(),
            new.taken_at.instant(),
            hash,
            now,
        )
    ))
}

pub async fn get(unit: &mut UnitOfWork, id: ActionTakenId) -> Result<Option<ActionTaken>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, work_order_id, position, action, part_line_id, expires_at, taken_by, taken_at
         FROM action_taken WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?
    .map(ActionTaken::try_from)
    .readable()
}

pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<ActionTaken>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, work_order_id, position, action, part_line_id, expires_at, taken_by, taken_at
         FROM action_taken WHERE work_order_id = $1 ORDER BY taken_at, id",
        order.uuid()
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(ActionTaken::try_from)
    .readable()
}
