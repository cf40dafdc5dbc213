//! What happened to appliances around their readings: calls, repairs, and readings that a person took out
//! of the references.

use std::collections::{BTreeMap, HashMap};

use domain::id::{ApplianceId, TestRunId};
use domain::known_good::selection::RemovalReason;
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::{Action, Position};
use sqlx::PgConnection;
use uuid::Uuid;

use crate::error::{stored, stored_option};
use crate::{Database, ReadScope, StoreError, UnitOfWork};

/// What was known of one appliance at an instant.
#[derive(Debug, Clone, Default)]
pub struct ApplianceHistory {
    /// When calls about it came that were not cancelled, the earliest first.
    pub corrective_calls: Vec<Timestamp>,
    /// Actions that changed it, the earliest first.
    pub repairs: Vec<(Position, Timestamp)>,
    /// Readings, by run and step, that are out of the references.
    pub removed: BTreeMap<(TestRunId, Key), RemovalReason>,
    /// Of a machine that is no longer there: the last that was heard of it.
    pub observed_until: Option<Timestamp>,
}

/// Whether the scope shows an appliance.
pub async fn is_shown(
    database: &Database,
    scope: &ReadScope,
    appliance: ApplianceId,
) -> Result<bool, StoreError> {
    let found = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM appliance WHERE id = $1 AND ($2::uuid IS NULL OR EXISTS (
               SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.appliance_id = $1))) AS "found!""#,
        appliance.uuid(),
        scope.person()
    );
    Ok(found.fetch_one(database.pool()).await?)
}

pub async fn one(
    database: &Database,
    appliance: ApplianceId,
    known_at: Timestamp,
) -> Result<ApplianceHistory, StoreError> {
    let mut connection = database.pool().acquire().await?;
    Ok(load(&mut connection, &[appliance], known_at).await?.remove(&appliance).unwrap_or_default())
}

/// [`one`] as it stands in a unit of work.
pub async fn one_within(
    unit: &mut UnitOfWork,
    appliance: ApplianceId,
    known_at: Timestamp,
) -> Result<ApplianceHistory, StoreError> {
    Ok(load(unit.connection(), &[appliance], known_at).await?.remove(&appliance).unwrap_or_default())
}

/// An appliance of which nothing is known has no entry.
pub async fn all_within(
    unit: &mut UnitOfWork,
    appliances: &[ApplianceId],
    known_at: Timestamp,
) -> Result<HashMap<ApplianceId, ApplianceHistory>, StoreError> {
    load(unit.connection(), appliances, known_at).await
}

async fn load(
    connection: &mut PgConnection,
    appliances: &[ApplianceId],
    known_at: Timestamp,
) -> Result<HashMap<ApplianceId, ApplianceHistory>, StoreError> {
    let ids: Vec<Uuid> = appliances.iter().map(|id| id.uuid()).collect();
    let known_at = known_at.instant();
    let mut histories: HashMap<ApplianceId, ApplianceHistory> = HashMap::new();

    let calls = sqlx::query!(
        r#"SELECT id, appliance_id AS "appliance_id!", received_at FROM work_order
           WHERE appliance_id = ANY($1) AND kind = 'corrective' AND state <> 'cancelled' AND created_at <= $2
           ORDER BY received_at"#,
        &ids,
        known_at
    );
    for row in calls.fetch_all(&mut *connection).await? {
        let appliance = stored(row.appliance_id, "work_order", "appliance_id", row.id)?;
        let received_at = stored(row.received_at, "work_order", "received_at", row.id)?;
        histories.entry(appliance).or_default().corrective_calls.push(received_at);
    }

    let actions = sqlx::query!(
        r#"SELECT a.id, w.appliance_id AS "appliance_id!", a.position, a.action, a.taken_at
           FROM action_taken a JOIN work_order w ON w.id = a.work_order_id
           WHERE w.appliance_id = ANY($1) AND a.created_at <= $2 ORDER BY a.taken_at"#,
        &ids,
        known_at
    );
    for row in actions.fetch_all(&mut *connection).await? {
        // A company's own action is taken to change the machine.
        if row.action.parse::<Action>().map_or(true, Action::changes_the_machine)
            && let Ok(position) = row.position.parse::<Position>()
        {
            let appliance = stored(row.appliance_id, "work_order", "appliance_id", row.id)?;
            let taken_at = stored(row.taken_at, "action_taken", "taken_at", row.id)?;
            histories.entry(appliance).or_default().repairs.push((position, taken_at));
        }
    }

    let removals = sqlx::query!(
        "SELECT DISTINCT ON (r.test_run_id, r.step) r.id, t.appliance_id, r.test_run_id, r.step, r.reason
         FROM known_good_removal r JOIN test_run t ON t.id = r.test_run_id
         WHERE t.appliance_id = ANY($1) AND r.created_at <= $2
         ORDER BY r.test_run_id, r.step, r.created_at DESC, r.id DESC",
        &ids,
        known_at
    );
    for row in removals.fetch_all(&mut *connection).await? {
        let reason = stored_option(row.reason, "known_good_removal", "reason", row.id)?;
        let Some(reason) = reason else { continue };
        let appliance = stored(row.appliance_id, "test_run", "appliance_id", row.id)?;
        let run = stored(row.test_run_id, "known_good_removal", "test_run_id", row.id)?;
        let step = stored(row.step, "known_good_removal", "step", row.id)?;
        histories.entry(appliance).or_default().removed.insert((run, step), reason);
    }

    let gone = sqlx::query!(
        r#"SELECT id, (SELECT max(heard.at) FROM (
                   SELECT taken_at AS at FROM test_run WHERE appliance_id = appliance.id
                   UNION ALL SELECT received_at FROM work_order WHERE appliance_id = appliance.id
                   UNION ALL SELECT closed_at FROM work_order WHERE appliance_id = appliance.id) AS heard)
               AS last_heard
           FROM appliance WHERE id = ANY($1) AND state = 'removed'"#,
        &ids
    );
    for row in gone.fetch_all(&mut *connection).await? {
        let appliance = stored(row.id, "appliance", "id", row.id)?;
        histories.entry(appliance).or_default().observed_until =
            stored_option(row.last_heard, "appliance", "id", row.id)?;
    }
    Ok(histories)
}
