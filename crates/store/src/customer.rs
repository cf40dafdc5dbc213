//! Customers: companies and institutions that run kitchens.

use chrono::{DateTime, Utc};
use domain::id::CustomerId;
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_option};
use crate::page::list;
use crate::search::containing;
use crate::{Creation, Database, Page, PageRequest, Position, ReadScope, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewCustomer {
    pub id: CustomerId,
    pub name: Name,
    pub external_id: Option<Name>,
}

#[derive(Debug, Clone)]
pub struct Customer {
    pub id: CustomerId,
    pub name: Name,
    pub external_id: Option<Name>,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    name: String,
    external_id: Option<String>,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Customer {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(row.id, "customer", "id", id)?,
            name: stored(row.name, "customer", "name", id)?,
            external_id: stored_option(row.external_id, "customer", "external_id", id)?,
            version: row.version,
            created_at: stored(row.created_at, "customer", "created_at", id)?,
        })
    }
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewCustomer, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM customer WHERE id = $1",
        sqlx::query!(
            "INSERT INTO customer (id, name, external_id, body_sha256, created_at) VALUES ($1, $2, $3, $4, $5)
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.name.as_str(),
            new.external_id.as_ref().map(Name::as_str),
            hash,
            now,
        )
    ))
}

/// Writes all fields if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, customer: &Customer, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE customer SET name = $3, external_id = $4, version = version + 1 WHERE id = $1 AND version = $2",
        customer.id.uuid(),
        version,
        customer.name.as_str(),
        customer.external_id.as_ref().map(Name::as_str),
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// The customer as it stands in this unit of work.
pub async fn get(unit: &mut UnitOfWork, id: CustomerId) -> Result<Option<Customer>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, name, external_id, version, created_at FROM customer WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?
    .map(Customer::try_from)
    .readable()
}

pub async fn find(
    database: &Database,
    scope: &ReadScope,
    id: CustomerId,
) -> Result<Option<Customer>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, name, external_id, version, created_at FROM customer
         WHERE id = $1 AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.customer_id = customer.id))",
        id.uuid(),
        scope.person()
    )
    .fetch_optional(database.pool())
    .await?
    .map(Customer::try_from)
    .readable()
}

/// Customers whose name or external id contains `search`.
pub async fn list(
    database: &Database,
    search: Option<&str>,
    request: &PageRequest,
) -> Result<Page<Customer>, StoreError> {
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        "SELECT id, name, external_id, version, created_at FROM customer
         WHERE ($1::text IS NULL OR lower(name) LIKE lower($1) OR external_id = $2)",
        ["$3", "$4", "$5"],
        search.map(containing),
        search,
    );
    let items = rows.into_iter().map(Customer::try_from);
    Ok(request.page(items, |customer: &Customer| Position {
        created_at: customer.created_at.instant(),
        id: customer.id.uuid(),
    }))
}
