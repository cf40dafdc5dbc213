//! How long the machines of each kitchen ran, and what failed in that time: what kitchens are compared by.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::{ApplianceId, SiteId};
use domain::repeats::fleet::{Failure, MachineTime};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::UnknownTerm;
use sqlx::PgConnection;
use uuid::Uuid;

use crate::error::stored;
use crate::{Database, StoreError};

/// What was seen of all kitchens between two times.
#[derive(Debug, Clone)]
pub struct FleetRecord {
    /// By kitchen and model.
    pub times: Vec<MachineTime<SiteId>>,
    pub watches: BTreeMap<ApplianceId, Watch>,
    pub failures: Vec<FailureOfMachine>,
    pub left_out: LeftOut,
}

/// A failure, with whose and when.
#[derive(Debug, Clone)]
pub struct FailureOfMachine {
    pub appliance: ApplianceId,
    pub reported_at: Timestamp,
    pub failure: Failure<SiteId>,
}

/// Failures that are in no count, and why.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct LeftOut {
    /// Of a fault that was not verifiably restored since it was last reported: the same failure still.
    pub continued: u32,
    /// Of machines that were elsewhere then, or not known yet, or taken out.
    pub not_watched: u32,
}

/// When a machine was watched, and in which kitchen: never, if the second is not later than the first.
#[derive(Debug, Clone, Copy)]
pub struct Watch {
    pub site: SiteId,
    pub since: DateTime<Utc>,
    pub until: DateTime<Utc>,
}

impl Watch {
    /// Whether something at this time and place counts.
    fn sees(&self, site: Uuid, at: DateTime<Utc>) -> bool {
        self.site.uuid() == site && self.since <= at && at < self.until
    }
}

/// What was seen from `from` to before `to`.
///
/// A machine is watched from its entry here, or from its last move to another kitchen, until it was taken out.
pub async fn between(database: &Database, from: Timestamp, to: Timestamp) -> Result<FleetRecord, StoreError> {
    let mut connection = database.pool().acquire().await?;
    let (times, watches) = watched(&mut connection, from, to).await?;
    let (failures, left_out) = failures(&mut connection, from, to, &watches).await?;
    Ok(FleetRecord { times, watches, failures, left_out })
}

async fn watched(
    connection: &mut PgConnection,
    from: Timestamp,
    to: Timestamp,
) -> Result<(Vec<MachineTime<SiteId>>, BTreeMap<ApplianceId, Watch>), StoreError> {
    let rows = sqlx::query!(
        r#"WITH moved AS (
               SELECT subject, max(at) AS at FROM audit WHERE 'site_id' = ANY (changed_fields) GROUP BY subject)
           SELECT a.id, a.site_id, a.model_key, greatest(a.created_at, moved.at, $1) AS "since!",
               least($2, CASE WHEN a.state = 'removed' THEN
                   (SELECT max(at) FROM audit WHERE subject = a.id AND 'state' = ANY (changed_fields)) END) AS "until!"
           FROM appliance a LEFT JOIN moved ON moved.subject = a.id
           WHERE a.created_at < $2"#,
        from.instant(),
        to.instant()
    )
    .fetch_all(connection)
    .await?;
    let mut watches = BTreeMap::new();
    let mut times: BTreeMap<(SiteId, Key), f64> = BTreeMap::new();
    for row in rows {
        let site = stored(row.site_id, "appliance", "site_id", row.id)?;
        let watch = Watch { site, since: row.since, until: row.until };
        if watch.since < watch.until {
            let model = stored(row.model_key, "appliance", "model_key", row.id)?;
            *times.entry((site, model)).or_default() += days(watch.until - watch.since);
        }
        watches.insert(stored(row.id, "appliance", "id", row.id)?, watch);
    }
    let times = times.into_iter().map(|((kitchen, model), days)| MachineTime { kitchen, model, days });
    Ok((times.collect(), watches))
}

async fn failures(
    connection: &mut PgConnection,
    from: Timestamp,
    to: Timestamp,
    watches: &BTreeMap<ApplianceId, Watch>,
) -> Result<(Vec<FailureOfMachine>, LeftOut), StoreError> {
    // A year before the first that counts, because what was not restored goes on.
    let rows = sqlx::query!(
        r#"WITH reported AS (
               SELECT DISTINCT o.id, coalesce(f.appliance_id, o.appliance_id) AS appliance_id, f.position, o.site_id, o.received_at,
                   CASE WHEN o.outcome = 'repaired' OR o.state = 'proven' THEN o.restored_at END AS restored_at
               FROM work_order o JOIN finding f ON f.work_order_id = o.id
               WHERE o.kind = 'corrective' AND o.received_at >= $1::timestamptz - interval '1 year' AND o.received_at < $2
                   AND f.finding IN ('degraded', 'failed') AND f.retraction_reason IS NULL AND f.failure_mode IS NOT NULL
                   AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id)),
           in_turn AS (
               SELECT id, appliance_id, position, site_id, received_at, restored_at,
                   lag(received_at) OVER each AS before, lag(restored_at) OVER each AS restored_before
               FROM reported WINDOW each AS (PARTITION BY appliance_id, position ORDER BY received_at, id))
           SELECT in_turn.id AS "id!", appliance_id AS "appliance_id!", a.model_key, position AS "position!",
               in_turn.site_id AS "site_id!", received_at AS "received_at!", restored_at,
               (before IS NOT NULL AND (restored_before IS NULL OR restored_before > received_at)) AS "continues!"
           FROM in_turn JOIN appliance a ON a.id = appliance_id WHERE received_at >= $1
           ORDER BY received_at, in_turn.id, position"#,
        from.instant(),
        to.instant()
    )
    .fetch_all(connection)
    .await?;
    let (mut failures, mut left_out) = (Vec::new(), LeftOut::default());
    for row in rows {
        let appliance = stored(row.appliance_id, "finding", "appliance_id", row.id)?;
        let watch = watches.get(&appliance).filter(|watch| watch.sees(row.site_id, row.received_at));
        let Some(watch) = watch.filter(|_| !row.continues) else {
            let why = if row.continues { &mut left_out.continued } else { &mut left_out.not_watched };
            *why += 1;
            continue;
        };
        let restored = row.restored_at.unwrap_or(watch.until).clamp(row.received_at, watch.until);
        let failure = Failure {
            kitchen: watch.site,
            model: stored(row.model_key, "appliance", "model_key", row.appliance_id)?,
            position: row.position.parse().map_err(|reason: UnknownTerm| StoreError::BadRow {
                table: "finding",
                column: "position",
                row: row.id.to_string(),
                reason: reason.to_string(),
            })?,
            days_failed: days(restored - row.received_at),
        };
        let reported_at = stored(row.received_at, "work_order", "received_at", row.id)?;
        failures.push(FailureOfMachine { appliance, reported_at, failure });
    }
    Ok((failures, left_out))
}

fn days(time: TimeDelta) -> f64 {
    time.as_seconds_f64() / 86_400.0
}
