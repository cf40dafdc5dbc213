//! Readings that a person took out of the references, or back in: entries that are only added.

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, KnownGoodRemovalId, PersonId, SiteId, TestRunId, WorkOrderId};
use domain::known_good::selection::RemovalReason;
use domain::text::{Key, Words};
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_option};
use crate::page::list;
use crate::{Creation, Database, Page, PageRequest, Position, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewRemoval {
    pub id: KnownGoodRemovalId,
    pub test_run: TestRunId,
    pub step: Key,
    /// None takes the reading back in.
    pub reason: Option<RemovalReason>,
    pub note: Option<Words>,
}

#[derive(Debug, Clone)]
pub struct Removal {
    pub id: KnownGoodRemovalId,
    pub test_run: TestRunId,
    pub step: Key,
    pub reason: Option<RemovalReason>,
    pub note: Option<Words>,
    pub decided_by: PersonId,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    test_run_id: Uuid,
    step: String,
    reason: Option<String>,
    note: Option<String>,
    decided_by: Uuid,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Removal {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        const TABLE: &str = "known_good_removal";
        let id = row.id;
        Ok(Self {
            id: stored(row.id, TABLE, "id", id)?,
            test_run: stored(row.test_run_id, TABLE, "test_run_id", id)?,
            step: stored(row.step, TABLE, "step", id)?,
            reason: stored_option(row.reason, TABLE, "reason", id)?,
            note: stored_option(row.note, TABLE, "note", id)?,
            decided_by: stored(row.decided_by, TABLE, "decided_by", id)?,
            created_at: stored(row.created_at, TABLE, "created_at", id)?,
        })
    }
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewRemoval,
    by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM known_good_removal WHERE id = $1",
        sqlx::query!(
            "INSERT INTO known_good_removal (id, test_run_id, step, reason, note, decided_by, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.test_run.uuid(),
            new.step.as_str(),
            new.reason.map(RemovalReason::word),
            new.note.as_ref().map(Words::as_str),
            by.uuid(),
            hash,
            now,
        )
    ))
}

/// Where a run belongs, for the record of a change.
#[derive(Debug, Clone, Copy)]
pub struct RunPlace {
    pub site: SiteId,
    pub appliance: ApplianceId,
    pub work_order: Option<WorkOrderId>,
}

pub async fn place(unit: &mut UnitOfWork, run: TestRunId) -> Result<Option<RunPlace>, StoreError> {
    let row = sqlx::query!(
        "SELECT appliance.site_id, test_run.appliance_id, test_run.work_order_id
         FROM test_run JOIN appliance ON appliance.id = test_run.appliance_id WHERE test_run.id = $1",
        run.uuid()
    )
    .fetch_optional(unit.connection())
    .await?;
    row.map(|row| {
        Ok(RunPlace {
            site: stored(row.site_id, "appliance", "site_id", run.uuid())?,
            appliance: stored(row.appliance_id, "test_run", "appliance_id", run.uuid())?,
            work_order: stored_option(row.work_order_id, "test_run", "work_order_id", run.uuid())?,
        })
    })
    .transpose()
}

pub async fn get(unit: &mut UnitOfWork, id: KnownGoodRemovalId) -> Result<Option<Removal>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, test_run_id, step, reason, note, decided_by, created_at FROM known_good_removal WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?
    .map(Removal::try_from)
    .readable()
}

pub async fn find(database: &Database, id: KnownGoodRemovalId) -> Result<Option<Removal>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, test_run_id, step, reason, note, decided_by, created_at FROM known_good_removal WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(database.pool())
    .await?
    .map(Removal::try_from)
    .readable()
}

/// Entries about one run, or all.
pub async fn list(
    database: &Database,
    test_run: Option<TestRunId>,
    request: &PageRequest,
) -> Result<Page<Removal>, StoreError> {
    let test_run = test_run.map(TestRunId::uuid);
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        "SELECT id, test_run_id, step, reason, note, decided_by, created_at FROM known_good_removal
         WHERE ($1::uuid IS NULL OR test_run_id = $1)",
        ["$2", "$3", "$4"],
        test_run,
    );
    let items = rows.into_iter().map(Removal::try_from);
    Ok(request.page(items, |removal: &Removal| Position {
        created_at: removal.created_at.instant(),
        id: removal.id.uuid(),
    }))
}
