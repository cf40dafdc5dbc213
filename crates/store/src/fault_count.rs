//! The summary of confirmed faults by day: rebuilt from the findings, which are the truth.

use crate::{Database, StoreError};

/// Makes the summary what the findings say; returns how many of its rows differed.
pub async fn rebuild(database: &Database) -> Result<u64, StoreError> {
    let changed = sqlx::query_scalar!(
        r#"WITH truth AS (
               SELECT o.site_id, f.appliance_id, f.position, f.failure_mode,
                   (f.found_at AT TIME ZONE 'UTC')::date AS day, count(*)::int AS findings
               FROM finding f JOIN work_order o ON o.id = f.work_order_id
               WHERE f.finding IN ('degraded', 'failed') AND f.retraction_reason IS NULL AND f.failure_mode IS NOT NULL
                   AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id)
               GROUP BY 1, 2, 3, 4, 5
           ), mended AS (
               INSERT INTO fault_count_day AS c (site_id, appliance_id, position, failure_mode, day, findings)
               SELECT site_id, appliance_id, position, failure_mode, day, findings FROM truth
               ON CONFLICT (site_id, appliance_id, position, failure_mode, day)
               DO UPDATE SET findings = excluded.findings WHERE c.findings <> excluded.findings
               RETURNING 1
           ), emptied AS (
               UPDATE fault_count_day c SET findings = 0
               WHERE findings <> 0 AND NOT EXISTS (SELECT FROM truth t WHERE (t.site_id, t.appliance_id, t.position,
                   t.failure_mode, t.day) = (c.site_id, c.appliance_id, c.position, c.failure_mode, c.day))
               RETURNING 1
           )
           SELECT (SELECT count(*) FROM mended) + (SELECT count(*) FROM emptied) AS "changed!""#
    )
    .fetch_one(database.pool())
    .await?;
    Ok(changed.unsigned_abs())
}
