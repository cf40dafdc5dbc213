//! What a batch of runs must be checked against, read in one go for the whole batch. Nothing is asked about nothing: a
//! round trip costs more than all that the service does for a single run.

use std::collections::{HashMap, HashSet};

use domain::equipment::FunctionalLimit;
use domain::id::{ApplianceId, InterlockDefeatId, PersonId, SiteId, TestRunId, VisitId, WorkOrderId};
use domain::time::Timestamp;
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
#[derive(Debug, Clone)]
pub struct OrderContext {
    pub site: SiteId,
    pub appliance: Option<ApplianceId>,
    pub has_ended: bool,
    /// Whether the scope shows it. An order that it does not show was his once, in the times of `presence`.
    pub is_visible: bool,
    /// From when to when the person of the scope was on one of its visits; only of an order that is not visible.
    pub presence: Vec<(Timestamp, Option<Timestamp>)>,
    /// The machines that the order was moved from, as a wrong unit put right.
    pub moved_from: HashSet<ApplianceId>,
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

/// Locks the orders in the order of their ids and bumps nothing. Only those that the scope shows, or showed once.
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
        r#"SELECT id, site_id, appliance_id, state, ($2::uuid IS NULL OR EXISTS (SELECT FROM assignment
               WHERE assignment.person_id = $2 AND assignment.work_order_id = work_order.id)) AS "is_visible!",
               EXISTS (SELECT FROM machine_correction WHERE work_order_id = work_order.id) AS "was_moved!"
           FROM work_order
           WHERE id = ANY($1) AND ($2::uuid IS NULL
               OR EXISTS (SELECT FROM assignment
                   WHERE assignment.person_id = $2 AND assignment.work_order_id = work_order.id)
               OR EXISTS (SELECT FROM visit_presence JOIN visit ON visit.id = visit_presence.visit_id
                   WHERE visit_presence.person_id = $2 AND visit.work_order_id = work_order.id))
           ORDER BY id FOR NO KEY UPDATE OF work_order"#,
        &ids,
        scope.person()
    )
    .fetch_all(unit.connection())
    .await?;
    let mut orders = HashMap::new();
    for row in rows {
        let id = stored(row.id, "work_order", "id", row.id)?;
        let context = OrderContext {
            site: stored(row.site_id, "work_order", "site_id", row.id)?,
            appliance: stored_option(row.appliance_id, "work_order", "appliance_id", row.id)?,
            has_ended: matches!(row.state.as_str(), "closed" | "cancelled"),
            is_visible: row.is_visible,
            presence: match scope.person() {
                Some(person) if !row.is_visible => presence(unit, row.id, person).await?,
                _ => Vec::new(),
            },
            moved_from: if row.was_moved {
                crate::machine_correction::moved_from(unit, row.id).await?
            } else {
                HashSet::new()
            },
        };
        orders.insert(id, context);
    }
    Ok(orders)
}

async fn presence(
    unit: &mut UnitOfWork,
    order: Uuid,
    person: Uuid,
) -> Result<Vec<(Timestamp, Option<Timestamp>)>, StoreError> {
    let rows = sqlx::query!(
        "SELECT from_at, to_at FROM visit_presence JOIN visit ON visit.id = visit_presence.visit_id
         WHERE visit.work_order_id = $1 AND visit_presence.person_id = $2 ORDER BY from_at",
        order,
        person
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let from = stored(row.from_at, "visit_presence", "from_at", order)?;
            Ok((from, stored_option(row.to_at, "visit_presence", "to_at", order)?))
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

/// A run that is to be corrected.
#[derive(Debug, Clone, Copy)]
pub struct Corrected {
    pub appliance: ApplianceId,
    pub work_order: Option<WorkOrderId>,
    pub taken_by: PersonId,
    /// It was made by moving another here, as a wrong unit put right.
    pub was_moved: bool,
}

/// The runs that are to be corrected, as far as they are stored.
pub async fn corrected(
    unit: &mut UnitOfWork,
    runs: &[TestRunId],
) -> Result<HashMap<TestRunId, Corrected>, StoreError> {
    if runs.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = runs.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!(
        r#"SELECT id, appliance_id, work_order_id, taken_by, moved_from IS NOT NULL AS "was_moved!"
               FROM test_run WHERE id = ANY($1)"#,
        &ids
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let corrected = Corrected {
                appliance: stored(row.appliance_id, "test_run", "appliance_id", row.id)?,
                work_order: stored_option(row.work_order_id, "test_run", "work_order_id", row.id)?,
                taken_by: stored(row.taken_by, "test_run", "taken_by", row.id)?,
                was_moved: row.was_moved,
            };
            Ok((stored(row.id, "test_run", "id", row.id)?, corrected))
        })
        .collect()
}

/// Of these appliances, those that the scope shows: an order's that he is sent to, and all of its kitchen.
pub async fn visible_appliances(
    unit: &mut UnitOfWork,
    scope: &ReadScope,
    ids: &[ApplianceId],
) -> Result<HashSet<ApplianceId>, StoreError> {
    if ids.is_empty() {
        return Ok(HashSet::new());
    }
    let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query_scalar!(
        "SELECT id FROM appliance WHERE id = ANY($1) AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2
                 AND (assignment.appliance_id = appliance.id OR assignment.site_id = appliance.site_id)))",
        &ids,
        scope.person()
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter().map(|id| stored(id, "appliance", "id", id)).collect()
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
