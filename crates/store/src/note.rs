//! What people tell each other about an order, and when somebody is to be rung back. Insert-only.

use chrono::{DateTime, Utc};
use domain::id::{NoteId, PersonId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_option};
use crate::{Creation, Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewNote {
    pub id: NoteId,
    pub work_order: WorkOrderId,
    pub words: Words,
    /// When the customer is to be rung back.
    pub ring_back_at: Option<Timestamp>,
    /// The note that asked to ring back, when that was done.
    pub settles: Option<NoteId>,
}

#[derive(Debug, Clone)]
pub struct Note {
    pub id: NoteId,
    pub work_order: WorkOrderId,
    pub words: Words,
    pub ring_back_at: Option<Timestamp>,
    pub settles: Option<NoteId>,
    /// The note that says that it was done.
    pub settled_by: Option<NoteId>,
    pub noted_by: PersonId,
    pub noted_at: Timestamp,
}

impl Note {
    /// When somebody is still to be rung back.
    pub fn ring_back_due(&self) -> Option<Timestamp> {
        self.ring_back_at.filter(|_| self.settled_by.is_none())
    }
}

struct Row {
    id: Uuid,
    work_order_id: Uuid,
    words: String,
    ring_back_at: Option<DateTime<Utc>>,
    settles: Option<Uuid>,
    settled_by: Option<Uuid>,
    noted_by: Uuid,
    noted_at: DateTime<Utc>,
}

impl TryFrom<Row> for Note {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "note", "id", id)?,
            work_order: stored(row.work_order_id, "note", "work_order_id", id)?,
            words: stored(row.words, "note", "words", id)?,
            ring_back_at: stored_option(row.ring_back_at, "note", "ring_back_at", id)?,
            settles: stored_option(row.settles, "note", "settles", id)?,
            settled_by: stored_option(row.settled_by, "note", "id", id)?,
            noted_by: stored(row.noted_by, "note", "noted_by", id)?,
            noted_at: stored(row.noted_at, "note", "noted_at", id)?,
        })
    }
}

macro_rules! notes {
    ($connection:expr, $condition:literal, $parameter:expr) => {
        sqlx::query_as!(
            Row,
            r#"SELECT note.id, note.work_order_id, note.words, note.ring_back_at, note.settles, later.id AS "settled_by?",
                   note.noted_by, note.noted_at
               FROM note LEFT JOIN note later ON later.settles = note.id WHERE "#
                + $condition,
            $parameter
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(Note::try_from)
        .readable::<Vec<_>>()?
    };
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewNote,
    noted_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM note WHERE id = $1",
        sqlx::query!(
            "INSERT INTO note (id, work_order_id, words, ring_back_at, settles, noted_by, noted_at, body_sha256)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            new.words.as_str(),
            new.ring_back_at.map(Timestamp::instant),
            new.settles.map(NoteId::uuid),
            noted_by.uuid(),
            now,
            hash,
        )
    ))
}

pub async fn get(unit: &mut UnitOfWork, id: NoteId) -> Result<Option<Note>, StoreError> {
    Ok(notes!(unit.connection(), "note.id = $1", id.uuid()).pop())
}

/// The notes of an order, oldest first.
pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<Note>, StoreError> {
    Ok(notes!(database.pool(), "note.work_order_id = $1 ORDER BY note.noted_at, note.id", order.uuid()))
}
