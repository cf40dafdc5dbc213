//! Stops of a machine's use: over which dangers, by whom, and by whom released.

use chrono::{DateTime, Utc};
use domain::danger::Danger;
use domain::id::{ApplianceId, PersonId, StopId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use serde::Serialize;
use sqlx::PgConnection;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_list, stored_option};
use crate::{Creation, Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewStop {
    pub id: StopId,
    pub appliance: ApplianceId,
    pub work_order: Option<WorkOrderId>,
    /// Empty where somebody only said that it is unsafe.
    pub dangers: Vec<Danger>,
    pub why: Words,
    /// When the danger was told or read.
    pub stopped_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct Stop {
    pub id: StopId,
    pub appliance: ApplianceId,
    pub work_order: Option<WorkOrderId>,
    pub dangers: Vec<Danger>,
    pub why: Words,
    pub stopped_by: Option<PersonId>,
    pub stopped_at: Timestamp,
    pub release: Option<Release>,
}

/// Who said that the machine may be used again, when and why.
#[derive(Debug, Clone)]
pub struct Release {
    pub by: PersonId,
    pub at: Timestamp,
    pub reason: Words,
}

struct Row {
    id: Uuid,
    appliance_id: Uuid,
    work_order_id: Option<Uuid>,
    dangers: Vec<String>,
    why: String,
    stopped_by: Option<Uuid>,
    stopped_at: DateTime<Utc>,
    released_by: Option<Uuid>,
    released_at: Option<DateTime<Utc>>,
    release_reason: Option<String>,
}

const TABLE: &str = "stop";

impl TryFrom<Row> for Stop {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        let release = match (row.released_by, row.released_at, row.release_reason) {
            (Some(by), Some(at), Some(reason)) => Some(Release {
                by: stored(by, TABLE, "released_by", id)?,
                at: stored(at, TABLE, "released_at", id)?,
                reason: stored(reason, TABLE, "release_reason", id)?,
            }),
            _ => None,
        };
        Ok(Self {
            id: stored(id, TABLE, "id", id)?,
            appliance: stored(row.appliance_id, TABLE, "appliance_id", id)?,
            work_order: stored_option(row.work_order_id, TABLE, "work_order_id", id)?,
            dangers: stored_list(row.dangers, TABLE, "dangers", id)?,
            why: stored(row.why, TABLE, "why", id)?,
            stopped_by: stored_option(row.stopped_by, TABLE, "stopped_by", id)?,
            stopped_at: stored(row.stopped_at, TABLE, "stopped_at", id)?,
            release,
        })
    }
}

macro_rules! stops {
    ($connection:expr, $condition:literal, $parameter:expr) => {
        sqlx::query_as!(
            Row,
            "SELECT id, appliance_id, work_order_id, dangers, why, stopped_by, stopped_at, released_by, released_at,
                 release_reason
             FROM stop WHERE "
                + $condition,
            $parameter
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(Stop::try_from)
        .readable::<Vec<_>>()?
    };
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewStop,
    stopped_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let dangers: Vec<String> = new.dangers.iter().map(ToString::to_string).collect();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM stop WHERE id = $1",
        sqlx::query!(
            "INSERT INTO stop (id, appliance_id, work_order_id, dangers, why, stopped_by, stopped_at, body_sha256,
                 created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.appliance.uuid(),
            new.work_order.map(WorkOrderId::uuid),
            &dangers,
            new.why.as_str(),
            stopped_by.uuid(),
            new.stopped_at.instant(),
            hash,
            now,
        )
    ))
}

pub async fn get(unit: &mut UnitOfWork, id: StopId) -> Result<Option<Stop>, StoreError> {
    Ok(stops!(unit.connection(), "id = $1", id.uuid()).pop())
}

/// Those of an appliance that nobody has released, oldest first.
pub async fn open_of(unit: &mut UnitOfWork, appliance: ApplianceId) -> Result<Vec<Stop>, StoreError> {
    Ok(stops!(
        unit.connection(),
        "appliance_id = $1 AND released_at IS NULL ORDER BY stopped_at, id",
        appliance.uuid()
    ))
}

/// All of an appliance, newest first.
pub async fn of_appliance(database: &Database, appliance: ApplianceId) -> Result<Vec<Stop>, StoreError> {
    Ok(stops!(
        database.pool(),
        "appliance_id = $1 ORDER BY stopped_at DESC, id DESC LIMIT 1000",
        appliance.uuid()
    ))
}

/// Releases every open stop of an appliance.
pub async fn release(
    unit: &mut UnitOfWork,
    appliance: ApplianceId,
    by: PersonId,
    reason: &Words,
) -> Result<(), StoreError> {
    let now = unit.now().instant();
    sqlx::query!(
        "UPDATE stop SET released_by = $2, released_at = $3, release_reason = $4
         WHERE appliance_id = $1 AND released_at IS NULL",
        appliance.uuid(),
        by.uuid(),
        now,
        reason.as_str()
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

pub(crate) async fn any_open(
    connection: &mut PgConnection,
    appliance: ApplianceId,
) -> Result<bool, StoreError> {
    let open = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM stop WHERE appliance_id = $1 AND released_at IS NULL) AS "open!""#,
        appliance.uuid()
    );
    Ok(open.fetch_one(connection).await?)
}
