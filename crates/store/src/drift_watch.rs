//! Which machines' readings drift, as last looked at. It follows from the readings and is made anew from them.

use chrono::{DateTime, Utc};
use domain::equipment::Measurement;
use domain::id::{ApplianceId, SiteId};
use domain::quantity::QuantityKind;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use domain::vocabulary::{Action, Position};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::error::{Readable, stored, stored_json};
use crate::{Database, StoreError};

/// One measurement of a machine that has left its own past.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drifting {
    pub of: Measurement,
    pub position: Position,
    pub quantity: QuantityKind,
    /// The reading with the first alarm since the last repair of the position.
    pub since: Timestamp,
    /// Whether it rises.
    pub rises: bool,
    /// Readings since the last repair.
    pub n: u32,
    /// Their mean before the alarm, in the quantity's unit.
    pub usual: f64,
    pub last: f64,
    pub last_at: Timestamp,
}

/// A machine that was read or worked on since it was looked at last, and until when that has come in.
#[derive(Debug, Clone, Copy)]
pub struct Unlooked {
    pub appliance: ApplianceId,
    pub seen_until: Timestamp,
}

/// A machine with what drifts of it.
#[derive(Debug, Clone)]
pub struct Warned {
    pub appliance: ApplianceId,
    pub label: Name,
    pub model: Key,
    pub site: SiteId,
    pub site_name: Name,
    /// The newest order that is open on it.
    pub open_order: Option<i64>,
    pub drifts: Vec<Drifting>,
}

/// Machines of which runs, or actions that begin their charts anew, came in after `since` and after they were looked at, at
/// most so many.
pub async fn unlooked(database: &Database, since: Timestamp, most: i64) -> Result<Vec<Unlooked>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT seen.appliance_id AS "appliance_id!", max(seen.at) AS "seen_until!"
           FROM (SELECT appliance_id, received_at AS at FROM test_run WHERE received_at > $1
                 UNION ALL SELECT o.appliance_id, a.created_at FROM action_taken a JOIN work_order o ON o.id = a.work_order_id
                 WHERE a.created_at > $1 AND o.appliance_id IS NOT NULL) AS seen
               LEFT JOIN drift_watch w ON w.appliance_id = seen.appliance_id
           WHERE w.appliance_id IS NULL OR w.looked_until < seen.at
           GROUP BY seen.appliance_id LIMIT $2"#,
        since.instant(),
        most
    )
    .fetch_all(database.pool())
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(Unlooked {
                appliance: stored(row.appliance_id, "test_run", "appliance_id", row.appliance_id)?,
                seen_until: stored(row.seen_until, "test_run", "received_at", row.appliance_id)?,
            })
        })
        .collect()
}

/// Keeps what was found. Of two that looked at once, the one stands that saw more.
pub async fn keep(database: &Database, looked: Unlooked, drifts: &[Drifting]) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO drift_watch (appliance_id, looked_until, drifts) VALUES ($1, $2, $3)
         ON CONFLICT (appliance_id) DO UPDATE SET looked_until = excluded.looked_until, drifts = excluded.drifts
         WHERE drift_watch.looked_until <= excluded.looked_until",
        looked.appliance.uuid(),
        looked.seen_until.instant(),
        json!(drifts)
    )
    .execute(database.pool())
    .await?;
    Ok(())
}

/// How many machines were looked at.
pub async fn looked_at(database: &Database) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT count(*) AS "n!" FROM drift_watch"#).fetch_one(database.pool()).await?)
}

struct Row {
    appliance_id: Uuid,
    position_label: String,
    model_key: String,
    site_id: Uuid,
    site_name: String,
    open_order: Option<i64>,
    drifts: Value,
}

impl TryFrom<Row> for Warned {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.appliance_id;
        Ok(Self {
            appliance: stored(id, "drift_watch", "appliance_id", id)?,
            label: stored(row.position_label, "appliance", "position_label", id)?,
            model: stored(row.model_key, "appliance", "model_key", id)?,
            site: stored(row.site_id, "appliance", "site_id", id)?,
            site_name: stored(row.site_name, "site", "name", id)?,
            open_order: row.open_order,
            drifts: stored_json(row.drifts, "drift_watch", "drifts", id)?,
        })
    }
}

/// The machines of which something drifts and which are not taken out, at most so many; those looked at last first.
pub async fn warned(database: &Database, most: i64) -> Result<Vec<Warned>, StoreError> {
    sqlx::query_as!(
        Row,
        r#"SELECT w.appliance_id, a.position_label, a.model_key, a.site_id, site.name AS site_name,
               (SELECT max(o.number) FROM work_order o WHERE o.appliance_id = a.id
                   AND o.state NOT IN ('closed', 'cancelled')) AS open_order, w.drifts
           FROM drift_watch w JOIN appliance a ON a.id = w.appliance_id JOIN site ON site.id = a.site_id
           WHERE w.drifts <> '[]' AND a.state <> 'removed'
           ORDER BY w.looked_until DESC, w.appliance_id LIMIT $1"#,
        most
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(Warned::try_from)
    .readable()
}

/// When positions of these machines were changed last, since a time.
pub async fn changed_since(
    database: &Database,
    appliances: &[ApplianceId],
    since: Timestamp,
) -> Result<Vec<(ApplianceId, Position, DateTime<Utc>)>, StoreError> {
    let ids: Vec<Uuid> = appliances.iter().map(|id| id.uuid()).collect();
    let rows = sqlx::query!(
        r#"SELECT o.appliance_id AS "appliance_id!", a.position, a.action, max(a.taken_at) AS "at!"
           FROM work_order o JOIN action_taken a ON a.work_order_id = o.id
           WHERE o.appliance_id = ANY ($1) AND a.taken_at > $2
           GROUP BY o.appliance_id, a.position, a.action"#,
        &ids,
        since.instant()
    )
    .fetch_all(database.pool())
    .await?;
    let mut changed = Vec::new();
    for row in rows {
        // A company's own action is taken to change the machine.
        if row.action.parse::<Action>().map_or(true, Action::changes_the_machine)
            && let Ok(position) = row.position.parse::<Position>()
        {
            let appliance = stored(row.appliance_id, "work_order", "appliance_id", row.appliance_id)?;
            changed.push((appliance, position, row.at));
        }
    }
    Ok(changed)
}
