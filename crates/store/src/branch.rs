//! Branchs: companies and institutions that run kitchens.

use chrono::{DateTime, Utc};
use domain::id::BranchId;
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored};
use crate::page::list;
use crate::search::containing;
use crate::{Creation, Database, Page, PageRequest, Position, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewBranch {
    pub id: BranchId,
    pub name: Name,
}

#[derive(Debug, Clone)]
pub struct Branch {
    pub id: BranchId,
    pub name: Name,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    name: String,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Branch {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(row.id, "branch", "id", id)?,
            name: stored(row.name, "branch", "name", id)?,
            version: row.version,
            created_at: stored(row.created_at, "branch", "created_at", id)?,
        })
    }
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewBranch, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM branch WHERE id = $1",
        sqlx::query!(
            "INSERT INTO branch (id, name, body_sha256, created_at) VALUES ($1, $2, $3, $4)
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.name.as_str(),
            hash,
            now,
        )
    ))
}

/// Writes all fields if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, branch: &Branch, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE branch SET name = $3, version = version + 1 WHERE id = $1 AND version = $2",
        branch.id.uuid(),
        version,
        branch.name.as_str(),
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// The branch as it stands in this unit of work.
pub async fn get(unit: &mut UnitOfWork, id: BranchId) -> Result<Option<Branch>, StoreError> {
    sqlx::query_as!(Row, "SELECT id, name, version, created_at FROM branch WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?
        .map(Branch::try_from)
        .readable()
}

pub async fn find(database: &Database, id: BranchId) -> Result<Option<Branch>, StoreError> {
    sqlx::query_as!(Row, "SELECT id, name, version, created_at FROM branch WHERE id = $1", id.uuid())
        .fetch_optional(database.pool())
        .await?
        .map(Branch::try_from)
        .readable()
}

/// Branches whose name contains `search`.
pub async fn list(
    database: &Database,
    search: Option<&str>,
    request: &PageRequest,
) -> Result<Page<Branch>, StoreError> {
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        "SELECT id, name, version, created_at FROM branch
         WHERE ($1::text IS NULL OR lower(name) LIKE lower($1))",
        ["$2", "$3", "$4"],
        search.map(containing),
    );
    let items = rows.into_iter().map(Branch::try_from);
    Ok(request.page(items, |branch: &Branch| Position {
        created_at: branch.created_at.instant(),
        id: branch.id.uuid(),
    }))
}
