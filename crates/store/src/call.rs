//! Calls: what a customer said, word for word.

use chrono::{DateTime, Utc};
use domain::id::{CallAnswerId, CallId, ContactId, PersonId, SiteId, WorkOrderId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use domain::work::{Danger, Urgency};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_json, stored_list, stored_option, to_json};
use crate::page::list;
use crate::{Creation, Database, Page, PageRequest, Position, ReadScope, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewCall {
    pub id: CallId,
    pub site: SiteId,
    pub contact: Option<ContactId>,
    pub words: Words,
    pub urgency: Urgency,
    pub dangers: Vec<Danger>,
    pub stop_use: bool,
    pub continued_use_reason: Option<Words>,
    pub answers: Vec<Answer>,
    pub received_at: Option<Timestamp>,
}

/// A question asked on the telephone, and what was said to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    pub question: Key,
    pub answer: Words,
}

#[derive(Debug, Clone)]
pub struct Call {
    pub id: CallId,
    pub site: SiteId,
    pub contact: Option<ContactId>,
    pub words: Words,
    pub urgency: Urgency,
    pub dangers: Vec<Danger>,
    pub stop_use: bool,
    pub continued_use_reason: Option<Words>,
    pub answers: Vec<Answer>,
    pub taken_by: PersonId,
    pub received_at: Timestamp,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    site_id: Uuid,
    contact_id: Option<Uuid>,
    words: String,
    urgency: String,
    dangers: Vec<String>,
    stop_use: bool,
    continued_use_reason: Option<String>,
    answers: serde_json::Value,
    taken_by: Uuid,
    received_at: DateTime<Utc>,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Call {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(row.id, "call", "id", id)?,
            site: stored(row.site_id, "call", "site_id", id)?,
            contact: stored_option(row.contact_id, "call", "contact_id", id)?,
            words: stored(row.words, "call", "words", id)?,
            urgency: stored(row.urgency, "call", "urgency", id)?,
            dangers: stored_list(row.dangers, "call", "dangers", id)?,
            stop_use: row.stop_use,
            continued_use_reason: stored_option(
                row.continued_use_reason,
                "call",
                "continued_use_reason",
                id,
            )?,
            answers: stored_json(row.answers, "call", "answers", id)?,
            taken_by: stored(row.taken_by, "call", "taken_by", id)?,
            received_at: stored(row.received_at, "call", "received_at", id)?,
            created_at: stored(row.created_at, "call", "created_at", id)?,
        })
    }
}

/// The hash of the call that is stored under this id.
pub async fn known_hash(unit: &mut UnitOfWork, id: CallId) -> Result<Option<Vec<u8>>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT body_sha256 FROM call WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?)
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewCall,
    taken_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let dangers: Vec<String> = new.dangers.iter().map(ToString::to_string).collect();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM call WHERE id = $1",
        sqlx::query!(
            "INSERT INTO call (id, site_id, contact_id, words, urgency, dangers, stop_use, continued_use_reason,
                 answers, taken_by, received_at, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.site.uuid(),
            new.contact.map(ContactId::uuid),
            new.words.as_str(),
            new.urgency.word(),
            &dangers,
            new.stop_use,
            new.continued_use_reason.as_ref().map(Words::as_str),
            to_json(&new.answers, "call", "answers", new.id)?,
            taken_by.uuid(),
            new.received_at.map_or(now, Timestamp::instant),
            hash,
            now,
        )
    ))
}

/// An answer that was had by ringing back.
#[derive(Debug, Clone, Serialize)]
pub struct NewAnswer {
    pub id: CallAnswerId,
    pub call: CallId,
    pub question: Key,
    pub answer: Words,
    pub answered_at: Option<Timestamp>,
}

pub async fn insert_answer(
    unit: &mut UnitOfWork,
    new: &NewAnswer,
    noted_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM call_answer WHERE id = $1",
        sqlx::query!(
            "INSERT INTO call_answer (id, call_id, question, answer, answered_at, noted_by, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.call.uuid(),
            new.question.as_str(),
            new.answer.as_str(),
            new.answered_at.map_or(now, Timestamp::instant),
            noted_by.uuid(),
            hash,
            now,
        )
    ))
}

/// The ids of a call's orders, lowest first.
pub async fn orders_of(unit: &mut UnitOfWork, call: CallId) -> Result<Vec<WorkOrderId>, StoreError> {
    sqlx::query_scalar!(
        "SELECT id FROM work_order WHERE call_id = $1 ORDER BY id FOR NO KEY UPDATE",
        call.uuid()
    )
    .fetch_all(unit.connection())
    .await?
    .into_iter()
    .map(|id| stored(id, "work_order", "id", id))
    .collect()
}

/// A call as it stands in this unit of work. A technician sees the calls of his orders.
pub async fn get(unit: &mut UnitOfWork, scope: &ReadScope, id: CallId) -> Result<Option<Call>, StoreError> {
    sqlx::query_as!(
        Row,
        r#"SELECT id, site_id, contact_id, words, urgency, dangers, stop_use, continued_use_reason, answers_of(id) AS "answers!",
             taken_by,
             received_at, created_at
         FROM call WHERE id = $1 AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment JOIN work_order ON work_order.id = assignment.work_order_id
             WHERE assignment.person_id = $2 AND work_order.call_id = call.id))"#,
        id.uuid(),
        scope.person()
    )
    .fetch_optional(unit.connection())
    .await?
    .map(Call::try_from)
    .readable()
}

/// The calls of a site, or all.
pub async fn list(
    database: &Database,
    site: Option<SiteId>,
    request: &PageRequest,
) -> Result<Page<Call>, StoreError> {
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        r#"SELECT id, site_id, contact_id, words, urgency, dangers, stop_use, continued_use_reason, answers_of(id) AS "answers!",
             taken_by,
             received_at, created_at
         FROM call WHERE ($1::uuid IS NULL OR site_id = $1)"#,
        ["$2", "$3", "$4"],
        site.map(SiteId::uuid),
    );
    let items = rows.into_iter().map(Call::try_from);
    Ok(request
        .page(items, |call: &Call| Position { created_at: call.created_at.instant(), id: call.id.uuid() }))
}
