//! Quotes and what the customer said to them. Neither is ever changed: another quote is made.

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{ApprovalId, ContactId, PartLineId, PersonId, QuoteId, WorkOrderId};
use domain::money::{Amount, Currency};
use domain::text::Name;
use domain::time::Timestamp;
use domain::work::Decision;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_json, stored_option, to_json};
use crate::work_order::Money;
use crate::{Creation, Database, StoreError, UnitOfWork};

/// A line as it stood when it was quoted.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct QuotedLine {
    pub part_line: PartLineId,
    pub part_number: Name,
    pub quantity: u32,
    pub unit_price: Amount,
}

#[derive(Debug, Clone)]
pub struct NewQuote {
    pub id: QuoteId,
    pub work_order: WorkOrderId,
    pub lines: Vec<QuotedLine>,
    pub total: Amount,
    pub currency: Currency,
    pub valid_until: Option<NaiveDate>,
    pub made_by: PersonId,
}

#[derive(Debug, Clone)]
pub struct Quote {
    pub id: QuoteId,
    pub work_order: WorkOrderId,
    /// Counts the order's quotes.
    pub number: i32,
    pub lines: Vec<QuotedLine>,
    pub total: Amount,
    pub currency: Currency,
    pub valid_until: Option<NaiveDate>,
    pub made_by: PersonId,
    pub made_at: Timestamp,
}

struct QuoteRow {
    id: Uuid,
    work_order_id: Uuid,
    number: i32,
    lines: serde_json::Value,
    total: Decimal,
    currency: String,
    valid_until: Option<NaiveDate>,
    made_by: Uuid,
    made_at: DateTime<Utc>,
}

impl TryFrom<QuoteRow> for Quote {
    type Error = StoreError;

    fn try_from(row: QuoteRow) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "quote", "id", id)?,
            work_order: stored(row.work_order_id, "quote", "work_order_id", id)?,
            number: row.number,
            lines: stored_json(row.lines, "quote", "lines", id)?,
            total: stored(row.total, "quote", "total", id)?,
            currency: stored(row.currency, "quote", "currency", id)?,
            valid_until: row.valid_until,
            made_by: stored(row.made_by, "quote", "made_by", id)?,
            made_at: stored(row.made_at, "quote", "made_at", id)?,
        })
    }
}

/// The number of the order's newest quote.
pub async fn newest_number(unit: &mut UnitOfWork, order: WorkOrderId) -> Result<Option<i32>, StoreError> {
    let newest = sqlx::query_scalar!("SELECT max(number) FROM quote WHERE work_order_id = $1", order.uuid());
    Ok(newest.fetch_one(unit.connection()).await?)
}

/// Inserts the order's next quote; its order is locked, so the number cannot be taken twice.
pub async fn insert(unit: &mut UnitOfWork, new: &NewQuote, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM quote WHERE id = $1",
        sqlx::query!(
            "INSERT INTO quote (id, work_order_id, number, lines, total, currency, valid_until, made_by, made_at,
                 body_sha256)
             SELECT $1, $2, coalesce(max(number), 0) + 1, $3, $4, $5, $6, $7, $8, $9 FROM quote WHERE work_order_id = $2
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            to_json(&new.lines, "quote", "lines", new.id)?,
            new.total.decimal(),
            new.currency.as_str(),
            new.valid_until,
            new.made_by.uuid(),
            now,
            hash,
        )
    ))
}

/// The hash of a stored quote's request, to know a repeated one by.
pub async fn hash_of(unit: &mut UnitOfWork, id: QuoteId) -> Result<Option<Vec<u8>>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT body_sha256 FROM quote WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?)
}

pub async fn get(unit: &mut UnitOfWork, id: QuoteId) -> Result<Option<Quote>, StoreError> {
    sqlx::query_as!(
        QuoteRow,
        "SELECT id, work_order_id, number, lines, total, currency, valid_until, made_by, made_at FROM quote WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?
    .map(Quote::try_from)
    .readable()
}

pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<Quote>, StoreError> {
    sqlx::query_as!(
        QuoteRow,
        "SELECT id, work_order_id, number, lines, total, currency, valid_until, made_by, made_at
         FROM quote WHERE work_order_id = $1 ORDER BY number",
        order.uuid()
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(Quote::try_from)
    .readable()
}

#[derive(Debug, Clone, Serialize)]
pub struct NewApproval {
    pub id: ApprovalId,
    pub work_order: WorkOrderId,
    pub quote: QuoteId,
    pub contact: Option<ContactId>,
    pub decision: Decision,
    pub decided_at: Timestamp,
    /// The sum that was allowed, where the customer spoke before the quote was written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub up_to: Option<Money>,
}

#[derive(Debug, Clone)]
pub struct Approval {
    pub id: ApprovalId,
    pub work_order: WorkOrderId,
    pub quote: QuoteId,
    pub contact: Option<ContactId>,
    pub decision: Decision,
    pub decided_at: Timestamp,
    pub up_to: Option<Money>,
    pub recorded_by: PersonId,
}

struct ApprovalRow {
    id: Uuid,
    work_order_id: Uuid,
    quote_id: Uuid,
    contact_id: Option<Uuid>,
    decision: String,
    decided_at: DateTime<Utc>,
    up_to_amount: Option<Decimal>,
    up_to_currency: Option<String>,
    recorded_by: Uuid,
}

impl TryFrom<ApprovalRow> for Approval {
    type Error = StoreError;

    fn try_from(row: ApprovalRow) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "approval", "id", id)?,
            work_order: stored(row.work_order_id, "approval", "work_order_id", id)?,
            quote: stored(row.quote_id, "approval", "quote_id", id)?,
            contact: stored_option(row.contact_id, "approval", "contact_id", id)?,
            decision: stored(row.decision, "approval", "decision", id)?,
            decided_at: stored(row.decided_at, "approval", "decided_at", id)?,
            up_to: match (row.up_to_amount, row.up_to_currency) {
                (Some(amount), Some(currency)) => Some(Money {
                    amount: stored(amount, "approval", "up_to_amount", id)?,
                    currency: stored(currency, "approval", "up_to_currency", id)?,
                }),
                _ => None,
            },
            recorded_by: stored(row.recorded_by, "approval", "recorded_by", id)?,
        })
    }
}

pub async fn insert_approval(
    unit: &mut UnitOfWork,
    new: &NewApproval,
    recorded_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM approval WHERE id = $1",
        sqlx::query!(
            "INSERT INTO approval (id, work_order_id, quote_id, contact_id, decision, decided_at, recorded_by,
                 body_sha256, created_at, up_to_amount, up_to_currency)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            new.quote.uuid(),
            new.contact.map(ContactId::uuid),
            new.decision.word(),
            new.decided_at.instant(),
            recorded_by.uuid(),
            hash,
            now,
            new.up_to.map(|up_to| up_to.amount.decimal()),
            new.up_to.as_ref().map(|up_to| up_to.currency.as_str()),
        )
    ))
}

pub async fn get_approval(unit: &mut UnitOfWork, id: ApprovalId) -> Result<Option<Approval>, StoreError> {
    sqlx::query_as!(
        ApprovalRow,
        "SELECT id, work_order_id, quote_id, contact_id, decision, decided_at, up_to_amount, up_to_currency, recorded_by
         FROM approval WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?
    .map(Approval::try_from)
    .readable()
}

pub async fn approvals_of_order(
    database: &Database,
    order: WorkOrderId,
) -> Result<Vec<Approval>, StoreError> {
    sqlx::query_as!(
        ApprovalRow,
        "SELECT id, work_order_id, quote_id, contact_id, decision, decided_at, up_to_amount, up_to_currency, recorded_by
         FROM approval WHERE work_order_id = $1 ORDER BY decided_at, id",
        order.uuid()
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(Approval::try_from)
    .readable()
}
