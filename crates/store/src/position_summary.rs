//! A machine at a glance: for each position, what was found, done and tested last.

use std::collections::BTreeMap;

use domain::id::{ApplianceId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;

use crate::error::{stored, stored_option};
use crate::{Database, StoreError};

/// What is known of one position.
#[derive(Debug, Clone, Default)]
pub struct PositionSummary {
    /// Orders that confirmed it degraded or failed.
    pub faulty_orders: i64,
    pub last_finding: Option<LastFinding>,
    pub actions: i64,
    pub last_action: Option<LastAction>,
    /// When a procedure that bears on it was last carried out.
    pub last_tested_at: Option<Timestamp>,
}

#[derive(Debug, Clone)]
pub struct LastFinding {
    pub at: Timestamp,
    pub finding: Key,
    pub failure_mode: Option<Key>,
    pub work_order: WorkOrderId,
}

#[derive(Debug, Clone)]
pub struct LastAction {
    pub at: Timestamp,
    pub action: Key,
    pub work_order: WorkOrderId,
}

/// Of each position of which anything is known. What was corrected or taken back does not count.
pub async fn of_appliance(
    database: &Database,
    appliance: ApplianceId,
) -> Result<BTreeMap<Key, PositionSummary>, StoreError> {
    let mut positions: BTreeMap<Key, PositionSummary> = BTreeMap::new();
    let findings = sqlx::query!(
        r#"SELECT DISTINCT ON (position) position, found_at, finding, failure_mode, work_order_id, id,
               (SELECT count(DISTINCT work_order_id) FROM finding other
                WHERE other.appliance_id = $1 AND other.position = finding.position
                    AND other.finding IN ('degraded', 'failed') AND other.retraction_reason IS NULL
                    AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = other.id)) AS "faulty_orders!"
           FROM finding
           WHERE appliance_id = $1 AND retraction_reason IS NULL
               AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = finding.id)
           ORDER BY position, found_at DESC, id DESC"#,
        appliance.uuid()
    )
    .fetch_all(database.pool())
    .await?;
    for row in findings {
        let id = row.id;
        let summary = positions.entry(stored(row.position, "finding", "position", id)?).or_default();
        summary.faulty_orders = row.faulty_orders;
        summary.last_finding = Some(LastFinding {
            at: stored(row.found_at, "finding", "found_at", id)?,
            finding: stored(row.finding, "finding", "finding", id)?,
            failure_mode: stored_option(row.failure_mode, "finding", "failure_mode", id)?,
            work_order: stored(row.work_order_id, "finding", "work_order_id", id)?,
        });
    }
    let actions = sqlx::query!(
        r#"SELECT DISTINCT ON (a.position) a.position, a.taken_at, a.action, a.work_order_id, a.id,
               count(*) OVER (PARTITION BY a.position) AS "actions!"
           FROM action_taken a JOIN work_order o ON o.id = a.work_order_id
           WHERE o.appliance_id = $1
           ORDER BY a.position, a.taken_at DESC, a.id DESC"#,
        appliance.uuid()
    )
    .fetch_all(database.pool())
    .await?;
    for row in actions {
        let id = row.id;
        let summary = positions.entry(stored(row.position, "action_taken", "position", id)?).or_default();
        summary.actions = row.actions;
        summary.last_action = Some(LastAction {
            at: stored(row.taken_at, "action_taken", "taken_at", id)?,
            action: stored(row.action, "action_taken", "action", id)?,
            work_order: stored(row.work_order_id, "action_taken", "work_order_id", id)?,
        });
    }
    let tests = sqlx::query!(
        r#"SELECT position AS "position!", max(t.taken_at + make_interval(secs => t.clock_correction / 1e6)) AS "at!"
           FROM test_run t
               JOIN procedure p ON p.key = t.procedure_key AND p.version = t.procedure_version,
               jsonb_array_elements_text(p.payload -> 'positions') AS position
           WHERE t.appliance_id = $1 AND t.retraction_reason IS NULL
               AND NOT EXISTS (SELECT FROM test_run s WHERE s.supersedes_id = t.id)
           GROUP BY position"#,
        appliance.uuid()
    )
    .fetch_all(database.pool())
    .await?;
    for row in tests {
        let position = stored(row.position, "procedure", "positions", appliance.uuid())?;
        positions.entry(position).or_default().last_tested_at =
            Some(stored(row.at, "test_run", "taken_at", appliance.uuid())?);
    }
    Ok(positions)
}
