//! The audit trail as people read it: who did what, when and why.

use chrono::{DateTime, Utc};
use domain::time::Timestamp;

use crate::error::{Readable, stored};
use crate::{Database, StoreError};

/// Which deeds are wanted.
#[derive(Debug, Clone, Copy)]
pub struct Sought<'a> {
    /// Of the person's name, of what was done, or of the reason.
    pub words: Option<&'a str>,
    /// The order's number, if the words can be one: what was done to it and to what belongs to it.
    pub order: Option<i64>,
    pub from: Timestamp,
    pub until: Timestamp,
}

/// Something that somebody did.
#[derive(Debug, Clone)]
pub struct Deed {
    pub at: Timestamp,
    /// None where the service itself did it.
    pub who: Option<String>,
    /// The use case's name.
    pub what: String,
    pub why: Option<String>,
    pub changed: Vec<String>,
    /// The number of the order that it was done to.
    pub order: Option<i64>,
}

struct Row {
    id: uuid::Uuid,
    at: DateTime<Utc>,
    who: Option<String>,
    what: String,
    why: Option<String>,
    changed: Vec<String>,
    number: Option<i64>,
}

/// Newest first.
pub async fn find(database: &Database, sought: &Sought<'_>, limit: i64) -> Result<Vec<Deed>, StoreError> {
    sqlx::query_as!(
        Row,
        r#"WITH belongs AS (
               SELECT o.id, o.number FROM work_order o WHERE o.number = $2
               UNION ALL SELECT v.id, o.number FROM visit v JOIN work_order o ON o.id = v.work_order_id WHERE o.number = $2
               UNION ALL SELECT w.id, o.number FROM waiting w JOIN work_order o ON o.id = w.work_order_id WHERE o.number = $2
               UNION ALL SELECT p.id, o.number FROM part_line p JOIN work_order o ON o.id = p.work_order_id WHERE o.number = $2
               UNION ALL SELECT q.id, o.number FROM quote q JOIN work_order o ON o.id = q.work_order_id WHERE o.number = $2
               UNION ALL SELECT f.id, o.number FROM finding f JOIN work_order o ON o.id = f.work_order_id WHERE o.number = $2
               UNION ALL SELECT t.id, o.number FROM action_taken t JOIN work_order o ON o.id = t.work_order_id
                   WHERE o.number = $2
               UNION ALL SELECT r.id, o.number FROM test_run r JOIN work_order o ON o.id = r.work_order_id WHERE o.number = $2
               UNION ALL SELECT w.id, o.number FROM waiver w JOIN work_order o ON o.id = w.work_order_id WHERE o.number = $2
               UNION ALL SELECT d.id, o.number FROM interlock_defeat d JOIN work_order o ON o.id = d.work_order_id
                   WHERE o.number = $2)
           SELECT audit.id, audit.at, person.name AS "who?", audit.use_case AS what, audit.why,
               audit.changed_fields AS changed, coalesce(belongs.number, moved.number) AS number
           FROM audit
           LEFT JOIN person ON person.id = audit.person_id
           LEFT JOIN belongs ON belongs.id = audit.subject
           LEFT JOIN work_order moved ON moved.id = audit.subject
           WHERE audit.at >= $3 AND audit.at < $4 AND ($1::text IS NULL OR belongs.id IS NOT NULL
               OR strpos(lower(person.name), lower($1)) > 0 OR strpos(replace(audit.use_case, '_', ' '), lower($1)) > 0
               OR strpos(lower(audit.why), lower($1)) > 0)
           ORDER BY audit.at DESC, audit.id DESC LIMIT $5"#,
        sought.words,
        sought.order,
        sought.from.instant(),
        sought.until.instant(),
        limit,
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(|row| {
        Ok(Deed {
            at: stored(row.at, "audit", "at", row.id)?,
            who: row.who,
            what: row.what,
            why: row.why,
            changed: row.changed,
            order: row.number,
        })
    })
    .readable()
}
