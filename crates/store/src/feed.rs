//! The change feed: what happened, in an order that no concurrent writer can slip behind.
//!
//! An event's place is `(x, n)`: the writing transaction and a counter. Readers stay below the oldest
//! transaction that still runs, so an event can never appear below a place that was read already. A place is
//! always that of an event that was committed: after a crash, numbers of transactions that were not are given
//! out again. Places of one life of the database alone are compared ([`crate::epoch`]).
//!
//! Known quirk: a transaction that runs long in any database of the server holds the feed up until it ends.

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, SiteId, WorkOrderId};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::error::{Readable, stored, stored_option};
use crate::{Database, ReadScope, StoreError};

/// A place in the feed of one life of the database: everything up to and with it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    pub epoch: Uuid,
    pub x: i64,
    pub n: i64,
    /// When the event of this place was written, by which it is known again; none where a life begins.
    pub at: Option<DateTime<Utc>>,
}

impl Place {
    /// Whether this place lies behind another of the same life.
    pub fn is_beyond(&self, other: &Self) -> bool {
        (self.x, self.n) > (other.x, other.n)
    }
}

/// The feed as it stands.
#[derive(Debug, Clone, Copy)]
pub struct Standing {
    /// The last event below which nothing can appear any more.
    pub end: Place,
    /// Whether the place that was asked about is of this life, and its event still there.
    pub holds: bool,
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

/// Where the feed ends now, and whether a cursor may go on from `since`.
pub async fn stand(database: &Database, since: Option<Place>) -> Result<Standing, StoreError> {
    let row = sqlx::query!(
        r#"SELECT epoch, (begins_at_x::text)::bigint AS "begins_at_x!", begins_after_n,
               (last.x::text)::bigint AS "x?", last.n AS "n?", last.at AS "at?",
               EXISTS (SELECT FROM event WHERE at = $1 AND x = ($2::bigint)::text::xid8 AND n = $3) AS "is_there!"
           FROM database_epoch LEFT JOIN LATERAL (
               SELECT x, n, at FROM event
               WHERE x >= begins_at_x AND n > begins_after_n AND x < pg_snapshot_xmin(pg_current_snapshot())
               ORDER BY x DESC, n DESC LIMIT 1) AS last ON true"#,
        since.and_then(|since| since.at),
        since.map_or(0, |since| since.x),
        since.map_or(0, |since| since.n),
    )
    .fetch_one(database.pool())
    .await?;
    let beginning = Place { epoch: row.epoch, x: row.begins_at_x, n: 0, at: None };
    let end = match (row.x, row.n) {
        (Some(x), Some(n)) => Place { x, n, at: row.at, ..beginning },
        _ => beginning,
    };
    let holds = since.is_none_or(|since| since.epoch == row.epoch && (since.at.is_none() || row.is_there));
    database.last_told().note(end);
    Ok(Standing { end, holds })
}

/// Up to `limit` events that the scope shows after `after`, which must be a place of the life of `end` and not beyond it.
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
           WHERE (x, n) > (($1::bigint)::text::xid8, $2) AND (x, n) <= (($3::bigint)::text::xid8, $6)
               AND n > (SELECT begins_after_n FROM database_epoch)
               AND CASE WHEN person_id IS NOT NULL THEN person_id = $4 ELSE
                   $4::uuid IS NULL OR split_part(kind, '.', 1) IN ('model', 'procedure', 'fault', 'part')
                   OR subject IN (SELECT subject FROM sight WHERE sight.person_id = $4)
                   OR EXISTS (SELECT FROM assignment WHERE assignment.person_id = $4 AND (
                       assignment.work_order_id = event.work_order_id
                       OR assignment.appliance_id = event.appliance_id
                       OR (event.work_order_id IS NULL AND event.appliance_id IS NULL
                           AND assignment.site_id = event.site_id))) END
           ORDER BY event.x, n LIMIT $5"#,
        after.x,
        after.n,
        end.x,
        scope.person(),
        limit + 1,
        end.n,
    )
    .fetch_all(database.pool())
    .await?;
    let wanted = usize::try_from(limit).unwrap_or(usize::MAX);
    let has_more = rows.len() > wanted;
    let last = rows.get(wanted.saturating_sub(1)).filter(|_| has_more);
    let place = last.map_or(end, |row| Place { epoch: end.epoch, x: row.x, n: row.n, at: Some(row.at) });
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
