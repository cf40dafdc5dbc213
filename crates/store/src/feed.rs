//! The change feed: what happened, in an order that no concurrent writer can slip behind.
//!
//! An event's place is `(x, n)`: the writing transaction and a counter. Readers stay below the oldest
//! transaction that still runs, so an event can never appear below a place that was read already.

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, SiteId, WorkOrderId};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::error::{Readable, stored, stored_option};
use crate::{Database, ReadScope, StoreError};

/// A place in the feed of one database epoch: everything up to and with it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    pub epoch: Uuid,
    pub x: i64,
    pub n: i64,
}

#[derive(Debug, Clone)]
pub struct Event {
    pub kind: String,
    pub subject: Uuid,
    pub at: Timestamp,
    pub site: Option<SiteId>,
    pub appliance: Option<ApplianceId>,
    pub work_order: Option<WorkOrderId>,
}

#[derive(Debug, Clone)]
pub struct Feed {
    pub events: Vec<Event>,
    /// Where to read on.
    pub place: Place,
    pub has_more: bool,
}

struct Row {
    x: i64,
    n: i64,
    kind: String,
    subject: Uuid,
    at: DateTime<Utc>,
    site_id: Option<Uuid>,
    appliance_id: Option<Uuid>,
    work_order_id: Option<Uuid>,
}

/// The feed's end: the newest place below which nothing can appear any more.
pub async fn end(database: &Database) -> Result<Place, StoreError> {
    let row = sqlx::query!(
        r#"SELECT epoch, (pg_snapshot_xmin(pg_current_snapshot())::text)::bigint AS "xmin!" FROM database_epoch"#
    )
    .fetch_one(database.pool())
    .await?;
    Ok(Place { epoch: row.epoch, x: row.xmin - 1, n: i64::MAX })
}

/// Up to `limit` events that the scope shows after `after`, which must be of the epoch of `end`.
pub async fn after(
    database: &Database,
    scope: &ReadScope,
    after: Place,
    end: Place,
    limit: i64,
) -> Result<Feed, StoreError> {
    let rows = sqlx::query_as!(
        Row,
        r#"SELECT (x::text)::bigint AS "x!", n, kind, subject, at, site_id, appliance_id, work_order_id
           FROM event
           WHERE (x, n) > (($1::bigint)::text::xid8, $2) AND x <= ($3::bigint)::text::xid8
               AND ($4::uuid IS NULL OR split_part(kind, '.', 1) IN ('model', 'procedure', 'fault', 'part')
                   OR EXISTS (SELECT FROM assignment WHERE person_id = $4 AND (
                       assignment.work_order_id = event.work_order_id
                       OR assignment.appliance_id = event.appliance_id
                       OR (event.work_order_id IS NULL AND event.appliance_id IS NULL
                           AND assignment.site_id = event.site_id))))
           ORDER BY event.x, n LIMIT $5"#,
        after.x,
        after.n,
        end.x,
        scope.person(),
        limit + 1
    )
    .fetch_all(database.pool())
    .await?;
    let wanted = usize::try_from(limit).unwrap_or(usize::MAX);
    let has_more = rows.len() > wanted;
    let last = rows.get(wanted.saturating_sub(1)).filter(|_| has_more);
    let place = last.map_or(end, |row| Place { epoch: end.epoch, x: row.x, n: row.n });
    let events = rows.into_iter().take(wanted).map(Event::try_from).readable()?;
    Ok(Feed { events, place, has_more })
}

impl TryFrom<Row> for Event {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.subject;
        Ok(Self {
            kind: row.kind,
            subject: row.subject,
            at: stored(row.at, "event", "at", id)?,
            site: stored_option(row.site_id, "event", "site_id", id)?,
            appliance: stored_option(row.appliance_id, "event", "appliance_id", id)?,
            work_order: stored_option(row.work_order_id, "event", "work_order_id", id)?,
        })
    }
}
