//! What was confirmed in a kitchen, for counting what recurs.

use domain::id::SiteId;
use domain::repeats::counting::{Confirmation, Found, Occasion};
use domain::time::Timestamp;
use domain::vocabulary::Position;

use crate::error::{stored, stored_option};
use crate::{Database, ReadScope, StoreError};

/// The confirmations of a kitchen as they stood at `as_of`, if the scope shows the kitchen.
pub async fn confirmations(
    database: &Database,
    scope: &ReadScope,
    site: SiteId,
    as_of: Timestamp,
) -> Result<Option<Vec<Confirmation>>, StoreError> {
    let mut connection = database.pool().acquire().await?;
    let is_visible = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM site WHERE id = $1 AND ($2::uuid IS NULL OR EXISTS (
               SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.site_id = $1))) AS "visible!""#,
        site.uuid(),
        scope.person()
    )
    .fetch_one(&mut *connection)
    .await?;
    if !is_visible {
        return Ok(None);
    }
    let rows = sqlx::query!(
        r#"SELECT o.id AS "order_id!", coalesce(f.appliance_id, o.appliance_id) AS "appliance_id!", o.kind AS "kind!",
               o.received_at AS "received_at!", f.position AS "position?", f.failure_mode AS "failure_mode?",
               coalesce(f.found_at, o.closed_at) AS "confirmed_at!",
               CASE WHEN o.outcome = 'repaired' OR o.state = 'proven' THEN o.restored_at END AS restored_at
           FROM work_order o
           LEFT JOIN finding f ON f.work_order_id = o.id AND f.finding IN ('degraded', 'failed')
               AND f.retraction_reason IS NULL AND f.failure_mode IS NOT NULL AND f.created_at <= $2
               AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id AND s.created_at <= $2)
           WHERE o.site_id = $1 AND o.received_at <= $2
               AND (f.id IS NOT NULL
                   OR (o.outcome = 'no_fault_found' AND o.closed_at <= $2 AND o.appliance_id IS NOT NULL))
           ORDER BY o.received_at, o.id, f.id"#,
        site.uuid(),
        as_of.instant()
    )
    .fetch_all(&mut *connection)
    .await?;
    let confirmations = rows.into_iter().map(|row| {
        let id = row.order_id;
        let found = match (row.position, row.failure_mode) {
            (Some(position), Some(mode)) => Found::Fault {
                position: position.parse::<Position>().map_err(|reason| StoreError::BadRow {
                    table: "finding",
                    column: "position",
                    row: id.to_string(),
                    reason: reason.to_string(),
                })?,
                failure_mode: stored(mode, "finding", "failure_mode", id)?,
            },
            _ => Found::NoFault,
        };
        Ok(Confirmation {
            work_order: stored(id, "work_order", "id", id)?,
            appliance: stored(row.appliance_id, "work_order", "appliance_id", id)?,
            occasion: match row.kind.as_str() {
                "planned" => Occasion::Planned,
                "installation" => Occasion::Installation,
                _ => Occasion::Corrective,
            },
            found,
            reported_at: stored(row.received_at, "work_order", "received_at", id)?,
            confirmed_at: stored(row.confirmed_at, "finding", "found_at", id)?,
            restored_at: stored_option(row.restored_at, "work_order", "restored_at", id)?,
        })
    });
    confirmations.collect::<Result<_, StoreError>>().map(Some)
}
