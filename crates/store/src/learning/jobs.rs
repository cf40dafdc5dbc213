//! Ended orders, as far as they teach how often faults arise and how they show.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::id::{PersonId, SiteId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use uuid::Uuid;

use crate::error::{stored, stored_option};
use crate::{StoreError, UnitOfWork};

/// A closed order on a machine of the model.
#[derive(Debug, Clone)]
pub struct EndedOrder {
    pub id: WorkOrderId,
    pub site: SiteId,
    /// Who confirmed the first finding, took the first reading, or was sent.
    pub technician: Option<PersonId>,
}

/// The next closed orders on calls about machines of a model, in the order of their ids. Those that were
/// cancelled, declined or solved by phone teach nothing: nobody looked.
pub async fn ended_orders(
    unit: &mut UnitOfWork,
    model: &str,
    (as_of, known_at): (Timestamp, Timestamp),
    after: Option<WorkOrderId>,
    limit: i64,
) -> Result<Vec<EndedOrder>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT o.id, o.site_id, coalesce(
               (SELECT confirmed_by FROM finding f WHERE f.work_order_id = o.id AND f.created_at <= $3
                ORDER BY found_at, f.id LIMIT 1),
               (SELECT taken_by FROM test_run t WHERE t.work_order_id = o.id AND t.received_at <= $3
                ORDER BY t.id LIMIT 1),
               (SELECT p.person_id FROM visit v JOIN visit_person p ON p.visit_id = v.id
                WHERE v.work_order_id = o.id ORDER BY v.planned_at, v.id, p.person_id LIMIT 1)) AS technician
           FROM work_order o JOIN appliance a ON a.id = o.appliance_id
           WHERE a.model_key = $1 AND o.kind = 'corrective' AND o.state = 'closed'
               AND o.outcome IN ('repaired', 'temporary_fix', 'no_fault_found', 'explained_use', 'referred')
               AND o.closed_at <= least($2, $3) AND ($4::uuid IS NULL OR o.id > $4)
           ORDER BY o.id LIMIT $5"#,
        model,
        as_of.instant(),
        known_at.instant(),
        after.map(WorkOrderId::uuid),
        limit
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(EndedOrder {
                id: stored(row.id, "work_order", "id", row.id)?,
                site: stored(row.site_id, "work_order", "site_id", row.id)?,
                technician: stored_option(row.technician, "finding", "confirmed_by", row.id)?,
            })
        })
        .collect()
}

/// One procedure that was carried out, with the step and choice of each look.
#[derive(Debug, Clone)]
pub struct Look {
    pub procedure: Key,
    /// By the device's clock, corrected.
    pub taken_at: DateTime<Utc>,
    pub choice: Option<(Key, Key)>,
}

/// What was looked at on some orders, oldest first.
pub async fn looks(
    unit: &mut UnitOfWork,
    orders: &[WorkOrderId],
    known_at: Timestamp,
) -> Result<HashMap<WorkOrderId, Vec<Look>>, StoreError> {
    let ids: Vec<Uuid> = orders.iter().map(|order| order.uuid()).collect();
    let rows = sqlx::query!(
        r#"SELECT t.id, t.work_order_id AS "work_order_id!", t.procedure_key, t.taken_at, t.clock_correction,
               r.step AS "step?", r.choice AS "choice?"
           FROM test_run t LEFT JOIN reading r ON r.test_run_id = t.id AND r.choice IS NOT NULL
           WHERE t.work_order_id = ANY($1) AND t.received_at <= $2 AND t.retraction_reason IS NULL
               AND NOT EXISTS (SELECT FROM test_run s WHERE s.supersedes_id = t.id AND s.received_at <= $2)
           ORDER BY t.taken_at, t.id, r.step"#,
        &ids,
        known_at.instant()
    )
    .fetch_all(unit.connection())
    .await?;
    let mut looks: HashMap<WorkOrderId, Vec<Look>> = HashMap::new();
    for row in rows {
        let choice = match (row.step, row.choice) {
            (Some(step), Some(choice)) => {
                Some((stored(step, "reading", "step", row.id)?, stored(choice, "reading", "choice", row.id)?))
            }
            _ => None,
        };
        let look = Look {
            procedure: stored(row.procedure_key, "test_run", "procedure_key", row.id)?,
            taken_at: row
                .taken_at
                .checked_add_signed(TimeDelta::microseconds(row.clock_correction))
                .unwrap_or(row.taken_at),
            choice,
        };
        looks.entry(stored(row.work_order_id, "test_run", "work_order_id", row.id)?).or_default().push(look);
    }
    Ok(looks)
}

/// How long each machine of a model was in service and known here, in the order of the machines' ids.
pub async fn service_times(
    unit: &mut UnitOfWork,
    model: &str,
    (as_of, known_at): (Timestamp, Timestamp),
) -> Result<Vec<(SiteId, TimeDelta)>, StoreError> {
    let rows = sqlx::query!(
        "SELECT a.id, a.site_id, a.installed_on, a.created_at,
             CASE WHEN a.state = 'removed' THEN coalesce((SELECT max(received_at) FROM work_order o WHERE o.appliance_id = a.id), a.created_at)
             END AS last_heard
         FROM appliance a WHERE a.model_key = $1 AND a.created_at <= $2 ORDER BY a.id",
        model,
        known_at.instant()
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let installed =
                row.installed_on.map(|day: NaiveDate| day.and_time(chrono::NaiveTime::MIN).and_utc());
            let from = installed.unwrap_or(row.created_at).max(row.created_at);
            let until = row.last_heard.unwrap_or(as_of.instant()).min(as_of.instant());
            Ok((stored(row.site_id, "appliance", "site_id", row.id)?, (until - from).max(TimeDelta::zero())))
        })
        .collect()
}
