//! Part lines of an order: from identified to fitted or sent back.

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{FindingId, PartId, PartLineId, PersonId, WorkOrderId};
use domain::money::{Amount, Currency};
use domain::text::{Key, Name, Words};
use domain::time::Timestamp;
use domain::work::{PartLineState, Payer};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_json, stored_option};
use crate::{Creation, Database, ReadScope, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewPartLine {
    pub id: PartLineId,
    pub work_order: WorkOrderId,
    pub finding: Option<FindingId>,
    pub part: PartId,
    pub position: Option<Key>,
    pub quantity: u32,
    pub payer: Payer,
    /// The part's own price where it is not said.
    pub unit_price: Option<Amount>,
    pub currency: Option<Currency>,
    /// A manager's word why it is fitted where the catalogue does not list it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fit_override: Option<Words>,
}

/// A day that the supplier named, and when he did.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Promise {
    pub promised_on: NaiveDate,
    pub noted_at: DateTime<Utc>,
}

#[derive(Debug, Clone)]
pub struct PartLine {
    pub id: PartLineId,
    pub work_order: WorkOrderId,
    pub finding: Option<FindingId>,
    pub part: PartId,
    pub part_number: Name,
    pub position: Option<Key>,
    pub quantity: u32,
    pub state: PartLineState,
    pub payer: Payer,
    pub unit_price: Amount,
    pub currency: Currency,
    pub promised_on: Option<NaiveDate>,
    /// Every day that was promised, in the order in which they were told.
    pub promises: Vec<Promise>,
    pub fit_override: Option<Words>,
    pub fitted_at: Option<Timestamp>,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    work_order_id: Uuid,
    finding_id: Option<Uuid>,
    part_id: Uuid,
    part_number: String,
    position: Option<String>,
    quantity: i32,
    state: String,
    payer: String,
    unit_price: Decimal,
    currency: String,
    promised_on: Option<NaiveDate>,
    promises: serde_json::Value,
    fit_override: Option<String>,
    fitted_at: Option<DateTime<Utc>>,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for PartLine {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "part_line", "id", id)?,
            work_order: stored(row.work_order_id, "part_line", "work_order_id", id)?,
            finding: stored_option(row.finding_id, "part_line", "finding_id", id)?,
            part: stored(row.part_id, "part_line", "part_id", id)?,
            part_number: stored(row.part_number, "part", "number", id)?,
            position: stored_option(row.position, "part_line", "position", id)?,
            quantity: row.quantity.cast_unsigned(),
            state: stored(row.state, "part_line", "state", id)?,
            payer: stored(row.payer, "part_line", "payer", id)?,
            unit_price: stored(row.unit_price, "part_line", "unit_price", id)?,
            currency: stored(row.currency, "part_line", "currency", id)?,
            promised_on: row.promised_on,
            promises: stored_json(row.promises, "part_promise", "promised_on", id)?,
            fit_override: stored_option(row.fit_override, "part_line", "fit_override", id)?,
            fitted_at: stored_option(row.fitted_at, "part_line", "fitted_at", id)?,
            version: row.version,
            created_at: stored(row.created_at, "part_line", "created_at", id)?,
        })
    }
}

macro_rules! lines {
    ($connection:expr, $condition:literal $(, $parameter:expr)+) => {
        sqlx::query_as!(
            Row,
            r#"SELECT l.id, l.work_order_id, l.finding_id, l.part_id, part.number AS part_number, l.position, l.quantity,
                 l.state, l.payer, l.unit_price, l.currency, l.promised_on,
                 coalesce((SELECT jsonb_agg(jsonb_build_object('promised_on', promised_on, 'noted_at', noted_at)
                     ORDER BY noted_at) FROM part_promise WHERE part_line_id = l.id), '[]') AS "promises!",
                 l.fit_override, l.fitted_at, l.version, l.created_at
             FROM part_line l JOIN part ON part.id = l.part_id WHERE "# + $condition
            $(, $parameter)+
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(PartLine::try_from)
        .readable::<Vec<_>>()?
    };
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewPartLine, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM part_line WHERE id = $1",
        sqlx::query!(
            "INSERT INTO part_line (id, work_order_id, finding_id, part_id, position, quantity, state, payer,
                 unit_price, currency, body_sha256, created_at, fit_override)
             SELECT $1, $2, $3, part.id, $5, $6, 'identified', $7, coalesce($8, part.unit_price),
                 coalesce($9, part.currency), $10, $11, $12
             FROM part WHERE part.id = $4
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            new.finding.map(FindingId::uuid),
            new.part.uuid(),
            new.position.as_ref().map(Key::as_str),
            i32::try_from(new.quantity).unwrap_or(i32::MAX),
            new.payer.word(),
            new.unit_price.map(Amount::decimal),
            new.currency.as_ref().map(Currency::as_str),
            hash,
            now,
            new.fit_override.as_ref().map(Words::as_str),
        )
    ))
}

/// Keeps the day that the supplier named.
pub async fn note_promise(
    unit: &mut UnitOfWork,
    line: PartLineId,
    promised_on: NaiveDate,
    noted_by: PersonId,
) -> Result<(), StoreError> {
    let now = unit.now().instant();
    sqlx::query!(
        "INSERT INTO part_promise (part_line_id, promised_on, noted_at, noted_by) VALUES ($1, $2, $3, $4)
         ON CONFLICT DO NOTHING",
        line.uuid(),
        promised_on,
        now,
        noted_by.uuid()
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Writes what can change if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, line: &PartLine, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE part_line SET state = $3, quantity = $4, payer = $5, unit_price = $6, currency = $7,
             promised_on = $8, fitted_at = $9, position = $10, fit_override = $11, version = version + 1
         WHERE id = $1 AND version = $2",
        line.id.uuid(),
        version,
        line.state.word(),
        i32::try_from(line.quantity).unwrap_or(i32::MAX),
        line.payer.word(),
        line.unit_price.decimal(),
        line.currency.as_str(),
        line.promised_on,
        line.fitted_at.map(Timestamp::instant),
        line.position.as_ref().map(Key::as_str),
        line.fit_override.as_ref().map(Words::as_str),
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// Which order a line belongs to: it is locked before the line is read.
pub async fn order_of(unit: &mut UnitOfWork, id: PartLineId) -> Result<Option<WorkOrderId>, StoreError> {
    sqlx::query_scalar!("SELECT work_order_id FROM part_line WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?
        .map(|order| stored(order, "part_line", "work_order_id", id.uuid()))
        .transpose()
}

pub async fn get(unit: &mut UnitOfWork, id: PartLineId) -> Result<Option<PartLine>, StoreError> {
    Ok(lines!(unit.connection(), "l.id = $1", id.uuid()).pop())
}

/// All lines of an order as they stand in this unit of work.
pub async fn of_order_within(unit: &mut UnitOfWork, order: WorkOrderId) -> Result<Vec<PartLine>, StoreError> {
    Ok(lines!(unit.connection(), "l.work_order_id = $1 ORDER BY l.created_at, l.id", order.uuid()))
}

pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<PartLine>, StoreError> {
    Ok(lines!(database.pool(), "l.work_order_id = $1 ORDER BY l.created_at, l.id", order.uuid()))
}

pub async fn find(
    database: &Database,
    scope: &ReadScope,
    id: PartLineId,
) -> Result<Option<PartLine>, StoreError> {
    Ok(lines!(
        database.pool(),
        "l.id = $1 AND ($2::uuid IS NULL OR EXISTS (SELECT FROM assignment
             WHERE assignment.person_id = $2 AND assignment.work_order_id = l.work_order_id))",
        id.uuid(),
        scope.person()
    )
    .pop())
}

/// Those after an id, by id: what a walk over all of them reads.
pub(crate) async fn walk(database: &Database, after: Uuid, limit: i64) -> Result<Vec<Uuid>, StoreError> {
    let ids =
        sqlx::query_scalar!("SELECT id FROM part_line WHERE id > $1 ORDER BY id LIMIT $2", after, limit)
            .fetch_all(database.pool())
            .await?;
    lines!(database.pool(), "l.id = ANY($1)", &ids);
    Ok(ids)
}
