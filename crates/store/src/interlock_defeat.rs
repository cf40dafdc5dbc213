//! Defeated interlocks: never alone, never without an end, never forgotten.

use chrono::{DateTime, Utc};
use domain::id::{ContactId, InterlockDefeatId, PersonId, WorkOrderId};
use domain::procedure::InterlockDefeatState;
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_option};
use crate::{Creation, Database, StoreError, UnitOfWork};

/// Who stands by.
#[derive(Debug, Clone, Serialize)]
pub enum SecondPerson {
    /// One of ours.
    Colleague(PersonId),
    /// Somebody of the customer's who is known.
    Contact(ContactId),
    /// Somebody of the kitchen, by name.
    OfKitchen(Name),
}

#[derive(Debug, Clone, Serialize)]
pub struct NewInterlockDefeat {
    pub id: InterlockDefeatId,
    pub work_order: WorkOrderId,
    pub second: SecondPerson,
    pub opened_at: Option<Timestamp>,
    pub expires_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct InterlockDefeat {
    pub id: InterlockDefeatId,
    pub work_order: WorkOrderId,
    pub opened_by: PersonId,
    pub second: SecondPerson,
    pub opened_at: Timestamp,
    pub expires_at: Timestamp,
    pub removed_at: Option<Timestamp>,
    pub removed_by: Option<PersonId>,
    pub version: i64,
    pub created_at: Timestamp,
}

impl InterlockDefeat {
    pub fn state(&self) -> InterlockDefeatState {
        InterlockDefeatState {
            id: self.id,
            opened_at: self.opened_at,
            expires_at: self.expires_at,
            removed_at: self.removed_at,
        }
    }
}

struct Row {
    id: Uuid,
    work_order_id: Uuid,
    opened_by: Uuid,
    second_person: Option<String>,
    second_person_id: Option<Uuid>,
    second_contact_id: Option<Uuid>,
    opened_at: DateTime<Utc>,
    expires_at: DateTime<Utc>,
    removed_at: Option<DateTime<Utc>>,
    removed_by: Option<Uuid>,
    version: i64,
    created_at: DateTime<Utc>,
}

const TABLE: &str = "interlock_defeat";

impl TryFrom<Row> for InterlockDefeat {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        let second = match (row.second_person_id, row.second_contact_id, row.second_person) {
            (Some(person), _, _) => SecondPerson::Colleague(stored(person, TABLE, "second_person_id", id)?),
            (_, Some(contact), _) => SecondPerson::Contact(stored(contact, TABLE, "second_contact_id", id)?),
            (_, _, name) => {
                SecondPerson::OfKitchen(stored(name.unwrap_or_default(), TABLE, "second_person", id)?)
            }
        };
        Ok(Self {
            id: stored(id, TABLE, "id", id)?,
            work_order: stored(row.work_order_id, TABLE, "work_order_id", id)?,
            opened_by: stored(row.opened_by, TABLE, "opened_by", id)?,
            second,
            opened_at: stored(row.opened_at, TABLE, "opened_at", id)?,
            expires_at: stored(row.expires_at, TABLE, "expires_at", id)?,
            removed_at: stored_option(row.removed_at, TABLE, "removed_at", id)?,
            removed_by: stored_option(row.removed_by, TABLE, "removed_by", id)?,
            version: row.version,
            created_at: stored(row.created_at, TABLE, "created_at", id)?,
        })
    }
}

macro_rules! defeats {
    ($connection:expr, $condition:literal, $parameter:expr) => {
        sqlx::query_as!(
            Row,
            "SELECT id, work_order_id, opened_by, second_person, second_person_id, second_contact_id, opened_at, expires_at, removed_at, removed_by,
                 version, created_at
             FROM interlock_defeat WHERE "
                + $condition,
            $parameter
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(InterlockDefeat::try_from)
        .readable::<Vec<_>>()?
    };
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewInterlockDefeat,
    opened_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let (colleague, contact, name) = match &new.second {
        SecondPerson::Colleague(person) => (Some(person.uuid()), None, None),
        SecondPerson::Contact(contact) => (None, Some(contact.uuid()), None),
        SecondPerson::OfKitchen(name) => (None, None, Some(name.as_str())),
    };
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM interlock_defeat WHERE id = $1",
        sqlx::query!(
            "INSERT INTO interlock_defeat (id, work_order_id, opened_by, second_person, opened_at, expires_at,
                 body_sha256, created_at, second_person_id, second_contact_id)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            opened_by.uuid(),
            name,
            new.opened_at.map_or(now, Timestamp::instant),
            new.expires_at.instant(),
            hash,
            now,
            colleague,
            contact,
        )
    ))
}

/// The hash of the defeat that is stored under this id.
pub async fn known_hash(unit: &mut UnitOfWork, id: InterlockDefeatId) -> Result<Option<Vec<u8>>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT body_sha256 FROM interlock_defeat WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?)
}

/// Notes its removal, unless it is noted already; returns whether it was noted now.
pub async fn remove(
    unit: &mut UnitOfWork,
    id: InterlockDefeatId,
    removed_at: Timestamp,
    removed_by: PersonId,
) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE interlock_defeat SET removed_at = $2, removed_by = $3, version = version + 1
         WHERE id = $1 AND removed_at IS NULL",
        id.uuid(),
        removed_at.instant(),
        removed_by.uuid()
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

pub async fn get(
    unit: &mut UnitOfWork,
    id: InterlockDefeatId,
) -> Result<Option<InterlockDefeat>, StoreError> {
    Ok(defeats!(unit.connection(), "id = $1", id.uuid()).pop())
}

pub async fn of_order_within(
    unit: &mut UnitOfWork,
    order: WorkOrderId,
) -> Result<Vec<InterlockDefeat>, StoreError> {
    Ok(defeats!(unit.connection(), "work_order_id = $1 ORDER BY opened_at, id", order.uuid()))
}

pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<InterlockDefeat>, StoreError> {
    Ok(defeats!(database.pool(), "work_order_id = $1 ORDER BY opened_at, id", order.uuid()))
}
