//! What failed in a kitchen, one after the other: what was found, what was done about it, by whom and with which parts.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, SiteId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::{Position, UnknownTerm};

use crate::error::{stored, stored_list, stored_option};
use crate::{Database, StoreError};

/// A fault that a corrective order confirmed at one position.
#[derive(Debug, Clone)]
pub struct Occurrence {
    pub work_order: WorkOrderId,
    pub number: i64,
    pub appliance: ApplianceId,
    /// Where the machine stands in the kitchen.
    pub machine: String,
    pub position: Position,
    pub cause: Option<Key>,
    pub received_at: Timestamp,
    /// When it was verifiably restored.
    pub restored_at: Option<Timestamp>,
    /// Names of those who were there.
    pub people: Vec<String>,
    /// What was done at the position.
    pub actions: Vec<Key>,
    /// Numbers of the parts fitted there.
    pub parts: Vec<String>,
}

/// Of calls from `from` to before `to`, oldest first; each position of an order once.
pub async fn of_site(
    database: &Database,
    site: SiteId,
    from: Timestamp,
    to: Timestamp,
) -> Result<Vec<Occurrence>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT DISTINCT ON (o.received_at, o.id, coalesce(f.appliance_id, o.appliance_id), f.position)
               o.id AS "id!", o.number AS "number!", coalesce(f.appliance_id, o.appliance_id) AS "appliance!",
               a.position_label AS "machine!", f.position AS "position!", f.cause, o.received_at AS "received_at!",
               CASE WHEN o.outcome = 'repaired' OR o.state = 'proven' THEN o.restored_at END AS restored_at,
               ARRAY(SELECT DISTINCT p.name FROM visit v JOIN visit_person w ON w.visit_id = v.id
                   JOIN person p ON p.id = w.person_id WHERE v.work_order_id = o.id AND v.arrived_at IS NOT NULL
                   ORDER BY p.name) AS "people!",
               ARRAY(SELECT DISTINCT t.action FROM action_taken t WHERE t.work_order_id = o.id AND t.position = f.position
                   ORDER BY t.action) AS "actions!",
               ARRAY(SELECT DISTINCT part.number FROM part_line l JOIN part ON part.id = l.part_id
                   WHERE l.work_order_id = o.id AND l.position = f.position AND l.state IN ('fitted', 'defective_returned')
                   ORDER BY part.number) AS "parts!"
           FROM work_order o JOIN finding f ON f.work_order_id = o.id
               JOIN appliance a ON a.id = coalesce(f.appliance_id, o.appliance_id)
           WHERE o.site_id = $1 AND o.kind = 'corrective' AND o.received_at >= $2 AND o.received_at < $3
               AND f.finding IN ('degraded', 'failed') AND f.retraction_reason IS NULL
               AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id)
           ORDER BY o.received_at, o.id, coalesce(f.appliance_id, o.appliance_id), f.position, f.found_at DESC"#,
        site.uuid(),
        from.instant(),
        to.instant()
    )
    .fetch_all(database.pool())
    .await?;
    let occurrences = rows.into_iter().map(|row| {
        let id = row.id;
        Ok(Occurrence {
            work_order: stored(id, "work_order", "id", id)?,
            number: row.number,
            appliance: stored(row.appliance, "finding", "appliance_id", id)?,
            machine: row.machine,
            position: row.position.parse().map_err(|reason: UnknownTerm| StoreError::BadRow {
                table: "finding",
                column: "position",
                row: id.to_string(),
                reason: reason.to_string(),
            })?,
            cause: stored_option(row.cause, "finding", "cause", id)?,
            received_at: stored(row.received_at, "work_order", "received_at", id)?,
            restored_at: stored_option(row.restored_at, "work_order", "restored_at", id)?,
            people: row.people,
            actions: stored_list(row.actions, "action_taken", "action", id)?,
            parts: row.parts,
        })
    });
    occurrences.collect()
}

/// How often each cause was found in all kitchens together, of calls from `from` to before `to`: each position of an order
/// counts once for each of its causes.
pub async fn causes(
    database: &Database,
    from: DateTime<Utc>,
    to: DateTime<Utc>,
) -> Result<BTreeMap<Key, u32>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT cause AS "cause!", count(*) AS "count!"
           FROM (SELECT DISTINCT f.work_order_id, f.appliance_id, f.position, f.cause
                 FROM work_order o JOIN finding f ON f.work_order_id = o.id
                 WHERE o.kind = 'corrective' AND o.received_at >= $1 AND o.received_at < $2 AND f.cause IS NOT NULL
                     AND f.cause <> 'unknown' AND f.finding IN ('degraded', 'failed') AND f.retraction_reason IS NULL
                     AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id)) found
           GROUP BY cause"#,
        from,
        to
    )
    .fetch_all(database.pool())
    .await?;
    let counts = rows.into_iter().map(|row| {
        let key: Key = stored(row.cause.clone(), "finding", "cause", row.cause)?;
        Ok((key, u32::try_from(row.count).unwrap_or(u32::MAX)))
    });
    counts.collect()
}
