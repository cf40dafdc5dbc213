//! Work orders. Whoever writes below one locks it first, so that "all parts set aside" or "no
//! interlock defeat open" cannot be outrun.

mod read;
mod situation;

pub use read::{Filter, at_site, find, list, of_appliance, of_call, of_number, open_at_site};
pub use situation::situation;

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, CallId, ContactId, SiteId, TestRunId, WorkOrderId};
use domain::money::{Amount, Currency};
use domain::text::Key;
use domain::time::Timestamp;
use domain::work::{OrderKind, OrderState, Outcome, Urgency};
use rust_decimal::Decimal;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_list, stored_option};
use crate::{Creation, ReadScope, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewWorkOrder {
    pub id: WorkOrderId,
    pub call: Option<CallId>,
    pub site: SiteId,
    pub appliance: Option<ApplianceId>,
    pub kind: OrderKind,
    pub urgency: Urgency,
    pub follows: Option<WorkOrderId>,
    pub spending_limit: Option<Money>,
    pub symptoms: Vec<Key>,
    pub received_at: Option<Timestamp>,
}

/// An amount in its currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Money {
    pub amount: Amount,
    pub currency: Currency,
}

#[derive(Debug, Clone)]
pub struct WorkOrder {
    pub id: WorkOrderId,
    /// What people call it by.
    pub number: i64,
    pub call: Option<CallId>,
    pub site: SiteId,
    pub appliance: Option<ApplianceId>,
    pub kind: OrderKind,
    pub urgency: Urgency,
    pub state: OrderState,
    pub outcome: Option<Outcome>,
    pub restored_at: Option<Timestamp>,
    pub closed_at: Option<Timestamp>,
    /// When a reading contradicted what had been proven by then.
    pub proof_doubted_at: Option<Timestamp>,
    pub follows: Option<WorkOrderId>,
    /// Whether another order follows it.
    pub is_followed: bool,
    pub spending_limit: Option<Money>,
    pub signed_off_by: Option<ContactId>,
    pub symptoms: Vec<Key>,
    pub received_at: Timestamp,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    number: i64,
    call_id: Option<Uuid>,
    site_id: Uuid,
    appliance_id: Option<Uuid>,
    kind: String,
    urgency: String,
    state: String,
    outcome: Option<String>,
    restored_at: Option<DateTime<Utc>>,
    closed_at: Option<DateTime<Utc>>,
    proof_doubted_at: Option<DateTime<Utc>>,
    follows_id: Option<Uuid>,
    is_followed: bool,
    spending_limit: Option<Decimal>,
    spending_currency: Option<String>,
    signed_off_by: Option<Uuid>,
    symptoms: Vec<String>,
    received_at: DateTime<Utc>,
    version: i64,
    created_at: DateTime<Utc>,
}

const TABLE: &str = "work_order";

impl TryFrom<Row> for WorkOrder {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        let spending_limit = match (row.spending_limit, row.spending_currency) {
            (Some(amount), Some(currency)) => Some(Money {
                amount: stored(amount, TABLE, "spending_limit", id)?,
                currency: stored(currency, TABLE, "spending_currency", id)?,
            }),
            _ => None,
        };
        Ok(Self {
            id: stored(row.id, TABLE, "id", id)?,
            number: row.number,
            call: stored_option(row.call_id, TABLE, "call_id", id)?,
            site: stored(row.site_id, TABLE, "site_id", id)?,
            appliance: stored_option(row.appliance_id, TABLE, "appliance_id", id)?,
            kind: stored(row.kind, TABLE, "kind", id)?,
            urgency: stored(row.urgency, TABLE, "urgency", id)?,
            state: stored(row.state, TABLE, "state", id)?,
            outcome: stored_option(row.outcome, TABLE, "outcome", id)?,
            restored_at: stored_option(row.restored_at, TABLE, "restored_at", id)?,
            closed_at: stored_option(row.closed_at, TABLE, "closed_at", id)?,
            proof_doubted_at: stored_option(row.proof_doubted_at, TABLE, "proof_doubted_at", id)?,
            follows: stored_option(row.follows_id, TABLE, "follows_id", id)?,
            is_followed: row.is_followed,
            spending_limit,
            signed_off_by: stored_option(row.signed_off_by, TABLE, "signed_off_by", id)?,
            symptoms: stored_list(row.symptoms, "symptom", "code", id)?,
            received_at: stored(row.received_at, TABLE, "received_at", id)?,
            version: row.version,
            created_at: stored(row.created_at, TABLE, "created_at", id)?,
        })
    }
}

/// The orders that a condition selects.
macro_rules! orders {
    ($connection:expr, $condition:literal $(, $parameter:expr)* $(,)?) => {
        sqlx::query_as!(
            crate::work_order::Row,
            r#"SELECT id, number, call_id, site_id, appliance_id, kind, urgency, state, outcome, restored_at, closed_at,
                   proof_doubted_at, follows_id, spending_limit, spending_currency, signed_off_by,
                   ARRAY(SELECT code FROM symptom WHERE symptom.work_order_id = work_order.id
                       ORDER BY place, code)
                       AS "symptoms!",
                   EXISTS (SELECT FROM work_order AS later WHERE later.follows_id = work_order.id) AS "is_followed!",
                   received_at, version, created_at
               FROM work_order WHERE "# + $condition
            $(, $parameter)*
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(crate::work_order::WorkOrder::try_from)
        .readable::<Vec<_>>()?
    };
}
pub(crate) use orders;

/// The hash of the order that is stored under this id.
pub async fn known_hash(unit: &mut UnitOfWork, id: WorkOrderId) -> Result<Option<Vec<u8>>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT body_sha256 FROM work_order WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?)
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewWorkOrder, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let creation = create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM work_order WHERE id = $1",
        sqlx::query!(
            "INSERT INTO work_order (id, call_id, site_id, appliance_id, kind, urgency, state, follows_id,
                 spending_limit, spending_currency, received_at, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6, 'received', $7, $8, $9, $10, $11, $12)
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.call.map(CallId::uuid),
            new.site.uuid(),
            new.appliance.map(ApplianceId::uuid),
            new.kind.word(),
            new.urgency.word(),
            new.follows.map(WorkOrderId::uuid),
            new.spending_limit.map(|money| money.amount.decimal()),
            new.spending_limit.map(|money| money.currency.to_string()),
            new.received_at.map_or(now, Timestamp::instant),
            hash,
            now,
        )
    );
    if creation == Creation::Created {
        set_symptoms(unit, new.id, &new.symptoms).await?;
    }
    Ok(creation)
}

/// Replaces the symptoms of an order; the first is the complaint.
pub async fn set_symptoms(
    unit: &mut UnitOfWork,
    order: WorkOrderId,
    symptoms: &[Key],
) -> Result<(), StoreError> {
    let codes: Vec<String> = symptoms.iter().map(ToString::to_string).collect();
    sqlx::query!("DELETE FROM symptom WHERE work_order_id = $1 AND code <> ALL($2)", order.uuid(), &codes)
        .execute(unit.connection())
        .await?;
    sqlx::query!(
        "INSERT INTO symptom (work_order_id, code, place)
         SELECT $1, code, min(n)::smallint FROM UNNEST($2::text[]) WITH ORDINALITY AS c (code, n) GROUP BY code
         ON CONFLICT (work_order_id, code) DO UPDATE SET place = excluded.place",
        order.uuid(),
        &codes
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// The order as it stands, locked until the unit of work ends; none if the scope does not show it.
pub async fn lock(
    unit: &mut UnitOfWork,
    scope: &ReadScope,
    id: WorkOrderId,
) -> Result<Option<WorkOrder>, StoreError> {
    let mut orders = orders!(
        unit.connection(),
        "id = $1 AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.work_order_id = work_order.id))
         FOR NO KEY UPDATE OF work_order",
        id.uuid(),
        scope.person(),
    );
    Ok(orders.pop())
}

/// The order as it stands, without a lock; none if the scope does not show it.
pub async fn visible(
    unit: &mut UnitOfWork,
    scope: &ReadScope,
    id: WorkOrderId,
) -> Result<Option<WorkOrder>, StoreError> {
    let mut orders = orders!(
        unit.connection(),
        "id = $1 AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.work_order_id = work_order.id))",
        id.uuid(),
        scope.person(),
    );
    Ok(orders.pop())
}

/// The order as it stands in this unit of work, without a lock, whoever asks.
pub async fn get(unit: &mut UnitOfWork, id: WorkOrderId) -> Result<Option<WorkOrder>, StoreError> {
    Ok(orders!(unit.connection(), "id = $1", id.uuid()).pop())
}

/// Writes the fields that may change if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, order: &WorkOrder, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE work_order SET appliance_id = $3, urgency = $4, state = $5, outcome = $6, restored_at = $7,
             closed_at = $8, spending_limit = $9, spending_currency = $10, signed_off_by = $11, proof_doubted_at = $12,
             version = version + 1
         WHERE id = $1 AND version = $2",
        order.id.uuid(),
        version,
        order.appliance.map(ApplianceId::uuid),
        order.urgency.word(),
        order.state.word(),
        order.outcome.map(Outcome::word),
        order.restored_at.map(Timestamp::instant),
        order.closed_at.map(Timestamp::instant),
        order.spending_limit.map(|money| money.amount.decimal()),
        order.spending_limit.map(|money| money.currency.to_string()),
        order.signed_off_by.map(ContactId::uuid),
        order.proof_doubted_at.map(Timestamp::instant),
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// Notes that the order's evidence changed, which leaves its version as it is.
pub async fn bump_evidence(unit: &mut UnitOfWork, id: WorkOrderId) -> Result<(), StoreError> {
    crate::test_run::bump_evidence(unit, &[id]).await
}

/// At most as many runs are listed in a refusal.
const LISTED: i64 = 10;

/// Runs of an order that still stand and are of another machine than this.
pub async fn runs_of_others(
    unit: &mut UnitOfWork,
    id: WorkOrderId,
    appliance: ApplianceId,
) -> Result<Vec<TestRunId>, StoreError> {
    sqlx::query_scalar!(
        "SELECT id FROM test_run t WHERE work_order_id = $1 AND appliance_id <> $2 AND retraction_reason IS NULL
             AND NOT EXISTS (SELECT FROM test_run s WHERE s.supersedes_id = t.id) ORDER BY id LIMIT $3",
        id.uuid(),
        appliance.uuid(),
        LISTED
    )
    .fetch_all(unit.connection())
    .await?
    .into_iter()
    .map(|run| stored(run, "test_run", "id", run))
    .collect()
}

/// Whether anything was read, found or done on the order that belongs to its appliance.
pub async fn has_evidence(unit: &mut UnitOfWork, id: WorkOrderId) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM test_run WHERE work_order_id = $1)
               OR EXISTS (SELECT FROM finding WHERE work_order_id = $1)
               OR EXISTS (SELECT FROM action_taken WHERE work_order_id = $1) AS "has!""#,
        id.uuid()
    )
    .fetch_one(unit.connection())
    .await?)
}
