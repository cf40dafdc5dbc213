//! What is known of an order beside its readings, as far as a diagnosis asks for it: the complaint, what was
//! answered on the telephone, what was found and what was done.

use std::collections::{BTreeSet, HashMap};

use domain::danger::Danger;
use domain::id::WorkOrderId;
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Action;
use sqlx::PgConnection;
use uuid::Uuid;

use crate::call::Answer;
use crate::error::{stored, stored_json, stored_list, stored_option};
use crate::{Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Default)]
pub struct OrderStanding {
    /// The complaint first.
    pub symptoms: Vec<Key>,
    pub answers: Vec<Answer>,
    /// Findings that were neither superseded nor retracted, oldest first.
    pub findings: Vec<StandingFinding>,
    /// Oldest first.
    pub actions: Vec<StandingAction>,
    /// Dangers that the call told of, until the stop of use that they brought is released.
    pub dangers: BTreeSet<Danger>,
    /// Dangers over which the machine stands under stop-use.
    pub stopped: BTreeSet<Danger>,
    /// How high the kitchen lies above the sea, m, if somebody said so.
    pub altitude_m: Option<f64>,
}

#[derive(Debug, Clone)]
pub struct StandingFinding {
    pub position: Key,
    pub fault: Option<Key>,
    /// The condition that was found.
    pub finding: Key,
    pub failure_mode: Option<Key>,
    pub evidence: Key,
    pub found_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct StandingAction {
    pub position: Key,
    pub action: Key,
    pub taken_at: Timestamp,
}

impl StandingAction {
    /// A company's own action is taken to change the machine.
    pub fn changes_the_machine(&self) -> bool {
        self.action.as_str().parse::<Action>().map_or(true, Action::changes_the_machine)
    }
}

/// Machines of one model that stand in the kitchen of an order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfKitchen {
    pub model: String,
    /// The newest of their versions.
    pub version: u32,
    pub machines: u32,
}

/// What the kitchen of an order has.
pub async fn kitchen(database: &Database, order: WorkOrderId) -> Result<Vec<OfKitchen>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT a.model_key, max(a.model_version) AS "version!", count(*) AS "machines!"
           FROM appliance a JOIN work_order o ON o.site_id = a.site_id
           WHERE o.id = $1 AND a.state <> 'removed' GROUP BY a.model_key ORDER BY a.model_key"#,
        order.uuid()
    )
    .fetch_all(database.pool())
    .await?;
    let of = |count: i64| u32::try_from(count).unwrap_or(u32::MAX);
    let rows = rows.into_iter().map(|row| OfKitchen {
        model: row.model_key,
        version: of(row.version.into()),
        machines: of(row.machines),
    });
    Ok(rows.collect())
}

pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<OrderStanding, StoreError> {
    let mut connection = database.pool().acquire().await?;
    Ok(load(&mut connection, &[order], None).await?.remove(&order).unwrap_or_default())
}

/// [`of_order`] as it stands in a unit of work.
pub async fn of_order_within(unit: &mut UnitOfWork, order: WorkOrderId) -> Result<OrderStanding, StoreError> {
    Ok(load(unit.connection(), &[order], None).await?.remove(&order).unwrap_or_default())
}

/// Of several orders, what was stored by an instant.
pub async fn of_orders_within(
    unit: &mut UnitOfWork,
    orders: &[WorkOrderId],
    known_at: Timestamp,
) -> Result<HashMap<WorkOrderId, OrderStanding>, StoreError> {
    load(unit.connection(), orders, Some(known_at)).await
}

async fn load(
    connection: &mut PgConnection,
    orders: &[WorkOrderId],
    known_at: Option<Timestamp>,
) -> Result<HashMap<WorkOrderId, OrderStanding>, StoreError> {
    let ids: Vec<Uuid> = orders.iter().map(|order| order.uuid()).collect();
    let known_at = known_at.map(Timestamp::instant);
    let mut standings: HashMap<WorkOrderId, OrderStanding> = HashMap::new();
    let rows = sqlx::query!(
        r#"SELECT o.id AS "id!", answers_of(o.call_id, $2) AS "answers?", site.altitude_m,
               ARRAY(SELECT unnest(call.dangers) FROM call WHERE call.id = o.call_id AND NOT EXISTS (
                   SELECT FROM stop WHERE stop.work_order_id = o.id AND stop.released_at IS NOT NULL)) AS "dangers!",
               ARRAY(SELECT DISTINCT unnest(stop.dangers) FROM stop
                   WHERE stop.appliance_id = o.appliance_id AND stop.released_at IS NULL) AS "stopped!",
               ARRAY(SELECT code FROM symptom s WHERE s.work_order_id = o.id ORDER BY s.place, s.code) AS "symptoms!"
           FROM work_order o JOIN site ON site.id = o.site_id WHERE o.id = ANY($1)"#,
        &ids,
        known_at
    )
    .fetch_all(&mut *connection)
    .await?;
    for row in rows {
        let answers = row.answers.map(|answers| stored_json(answers, "call", "answers", row.id));
        let standing = OrderStanding {
            symptoms: stored_list(row.symptoms, "symptom", "code", row.id)?,
            answers: answers.transpose()?.unwrap_or_default(),
            dangers: stored_list(row.dangers, "call", "dangers", row.id)?.into_iter().collect(),
            stopped: stored_list(row.stopped, "stop", "dangers", row.id)?.into_iter().collect(),
            altitude_m: row.altitude_m,
            ..OrderStanding::default()
        };
        standings.insert(stored(row.id, "work_order", "id", row.id)?, standing);
    }
    let rows = sqlx::query!(
        "SELECT f.id, f.work_order_id, f.position, f.fault_key, f.finding, f.failure_mode, f.evidence, f.found_at
         FROM finding f
         WHERE f.work_order_id = ANY($1) AND f.retraction_reason IS NULL
             AND ($2::timestamptz IS NULL OR f.created_at <= $2)
             AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id
                 AND ($2::timestamptz IS NULL OR s.created_at <= $2))
         ORDER BY f.found_at, f.id",
        &ids,
        known_at
    )
    .fetch_all(&mut *connection)
    .await?;
    for row in rows {
        let id = row.id;
        let finding = StandingFinding {
            position: stored(row.position, "finding", "position", id)?,
            fault: stored_option(row.fault_key, "finding", "fault_key", id)?,
            finding: stored(row.finding, "finding", "finding", id)?,
            failure_mode: stored_option(row.failure_mode, "finding", "failure_mode", id)?,
            evidence: stored(row.evidence, "finding", "evidence", id)?,
            found_at: stored(row.found_at, "finding", "found_at", id)?,
        };
        let order = stored(row.work_order_id, "finding", "work_order_id", id)?;
        standings.entry(order).or_default().findings.push(finding);
    }
    let rows = sqlx::query!(
        "SELECT id, work_order_id, position, action, taken_at FROM action_taken
         WHERE work_order_id = ANY($1) AND ($2::timestamptz IS NULL OR created_at <= $2) ORDER BY taken_at, id",
        &ids,
        known_at
    )
    .fetch_all(&mut *connection)
    .await?;
    for row in rows {
        let id = row.id;
        let action = StandingAction {
            position: stored(row.position, "action_taken", "position", id)?,
            action: stored(row.action, "action_taken", "action", id)?,
            taken_at: stored(row.taken_at, "action_taken", "taken_at", id)?,
        };
        let order = stored(row.work_order_id, "action_taken", "work_order_id", id)?;
        standings.entry(order).or_default().actions.push(action);
    }
    Ok(standings)
}
