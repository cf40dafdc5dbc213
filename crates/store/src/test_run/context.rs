//! What a batch of runs must be checked against, read in one go for the whole batch. Nothing is asked about nothing: a
//! round trip costs more than all that the service does for a single run.

use std::collections::HashMap;

use domain::equipment::FunctionalLimit;
use domain::id::{ApplianceId, InterlockDefeatId, SiteId, TestRunId, VisitId, WorkOrderId};
use uuid::Uuid;

use crate::error::{stored, stored_json, stored_option};
use crate::{Database, ReadScope, StoreError, UnitOfWork};

/// The appliance of a run.
#[derive(Debug, Clone)]
pub struct ApplianceContext {
    pub site: SiteId,
    pub model_key: String,
    pub model_version: u32,
    pub limits: Vec<FunctionalLimit>,
}

/// The order of a run.
#[derive(Debug, Clone, Copy)]
pub struct OrderContext {
    pub appliance: Option<ApplianceId>,
    pub has_ended: bool,
}

pub async fn appliances(
    unit: &mut UnitOfWork,
    ids: &[ApplianceId],
) -> Result<HashMap<ApplianceId, ApplianceContext>, StoreError> {
    if ids.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!(
        "SELECT id, site_id, model_key, model_version, limits FROM appliance WHERE id = ANY($1)",
        &ids
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let context = ApplianceContext {
                site: stored(row.site_id, "appliance", "site_id", row.id)?,
                model_key: row.model_key,
                model_version: row.model_version.cast_unsigned(),
                limits: stored_json(row.limits, "appliance", "limits", row.id)?,
            };
            Ok((stored(row.id, "appliance", "id", row.id)?, context))
        })
        .collect()
}

/// Locks the orders in the order of their ids and bumps nothing. Only those that the scope shows.
pub async fn lock_orders(
    unit: &mut UnitOfWork,
    scope: &ReadScope,
    ids: &[WorkOrderId],
) -> Result<HashMap<WorkOrderId, OrderContext>, StoreError> {
    if ids.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!(
        "SELECT id, appliance_id, state FROM work_order
         WHERE id = ANY($1) AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.work_order_id = work_order.id))
         ORDER BY id FOR NO KEY UPDATE",
        &ids,
        scope.person()
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let appliance = row.appliance_id.map(|id| stored(id, "work_order", "appliance_id", row.id));
            let context = OrderContext {
                appliance: appliance.transpose()?,
                has_ended: matches!(row.state.as_str(), "closed" | "cancelled"),
            };
            Ok((stored(row.id, "work_order", "id", row.id)?, context))
        })
        .collect()
}

/// The hashes of those runs that are stored already.
pub async fn known_hashes(
    unit: &mut UnitOfWork,
    ids: &[TestRunId],
) -> Result<HashMap<TestRunId, Vec<u8>>, StoreError> {
    if ids.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!("SELECT id, body_sha256 FROM test_run WHERE id = ANY($1)", &ids)
        .fetch_all(unit.connection())
        .await?;
    rows.into_iter().map(|row| Ok((stored(row.id, "test_run", "id", row.id)?, row.body_sha256))).collect()
}

/// Of the runs that are to be corrected: which are corrected by another already.
pub async fn superseders(
    unit: &mut UnitOfWork,
    corrected: &[TestRunId],
) -> Result<HashMap<TestRunId, TestRunId>, StoreError> {
    if corrected.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = corrected.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!(
        r#"SELECT id, supersedes_id AS "supersedes_id!" FROM test_run WHERE supersedes_id = ANY($1)"#,
        &ids
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let by = stored(row.id, "test_run", "id", row.id)?;
            Ok((stored(row.supersedes_id, "test_run", "supersedes_id", row.id)?, by))
        })
        .collect()
}

/// Which order each of these visits belongs to.
pub async fn visits(
    unit: &mut UnitOfWork,
    ids: &[VisitId],
) -> Result<HashMap<VisitId, WorkOrderId>, StoreError> {
    if ids.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!("SELECT id, work_order_id FROM visit WHERE id = ANY($1)", &ids)
        .fetch_all(unit.connection())
        .await?;
    rows.into_iter()
        .map(|row| {
            let order = stored(row.work_order_id, "visit", "work_order_id", row.id)?;
            Ok((stored(row.id, "visit", "id", row.id)?, order))
        })
        .collect()
}

/// Which order each of these interlock defeats belongs to.
pub async fn interlock_defeats(
    unit: &mut UnitOfWork,
    ids: &[InterlockDefeatId],
) -> Result<HashMap<InterlockDefeatId, WorkOrderId>, StoreError> {
    if ids.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!("SELECT id, work_order_id FROM interlock_defeat WHERE id = ANY($1)", &ids)
        .fetch_all(unit.connection())
        .await?;
    rows.into_iter()
        .map(|row| {
            let order = stored(row.work_order_id, "interlock_defeat", "work_order_id", row.id)?;
            Ok((stored(row.id, "interlock_defeat", "id", row.id)?, order))
        })
        .collect()
}

/// The appliance and order of runs that are to be corrected, as far as they are stored.
pub async fn places(
    unit: &mut UnitOfWork,
    runs: &[TestRunId],
) -> Result<HashMap<TestRunId, (ApplianceId, Option<WorkOrderId>)>, StoreError> {
    if runs.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = runs.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!("SELECT id, appliance_id, work_order_id FROM test_run WHERE id = ANY($1)", &ids)
        .fetch_all(unit.connection())
        .await?;
    rows.into_iter()
        .map(|row| {
            let appliance = stored(row.appliance_id, "test_run", "appliance_id", row.id)?;
            let order = stored_option(row.work_order_id, "test_run", "work_order_id", row.id)?;
            Ok((stored(row.id, "test_run", "id", row.id)?, (appliance, order)))
        })
        .collect()
}

/// One appliance, for a reader.
pub async fn appliance(database: &Database, id: ApplianceId) -> Result<Option<ApplianceContext>, StoreError> {
    let row = sqlx::query!(
        "SELECT id, site_id, model_key, model_version, limits FROM appliance WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(database.pool())
    .await?;
    row.map(|row| {
        Ok(ApplianceContext {
            site: stored(row.site_id, "appliance", "site_id", row.id)?,
            model_key: row.model_key,
            model_version: row.model_version.cast_unsigned(),
            limits: stored_json(row.limits, "appliance", "limits", row.id)?,
        })
    })
    .transpose()
}
