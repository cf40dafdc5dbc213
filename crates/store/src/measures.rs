//! Orders with everything that the measures of the business are made of.
//!
//! Each list comes as columns and not as rows: a year of a large company is a hundred thousand orders, and a row costs more
//! than what is in it.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, BranchId, PersonId};
use domain::measures::{Attendance, OrderFacts, Part, Wait};
use domain::text::Key;
use domain::vocabulary::Position;
use sqlx::PgConnection;
use uuid::Uuid;

use crate::catalogue::model_titles;
use crate::error::{stored, stored_option};
use crate::{Database, StoreError};

/// Which orders, and what of them that only some questions need.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// Not closed before this.
    pub from: DateTime<Utc>,
    /// Called before this.
    pub to: DateTime<Utc>,
    /// Findings after this are not known.
    pub as_of: DateTime<Utc>,
    pub people: bool,
    pub repairs: bool,
}

/// The orders that were open in the span, and when machines were taken out that are out now.
pub async fn orders(
    database: &Database,
    span: &Span,
) -> Result<(Vec<OrderFacts>, HashMap<ApplianceId, DateTime<Utc>>), StoreError> {
    let mut connection = database.pool().acquire().await?;
    let connection = &mut *connection;
    let mut orders = Orders::of(heads(connection, span).await?);
    visits(connection, span, &mut orders).await?;
    waits(connection, span, &mut orders).await?;
    faults(connection, span, &mut orders).await?;
    symptoms(connection, span, &mut orders).await?;
    parts(connection, span, &mut orders).await?;
    waivers(connection, span, &mut orders).await?;
    if span.repairs {
        repairs(connection, span, &mut orders).await?;
    }
    let removed = removed(connection).await?;
    Ok((orders.orders, removed))
}

/// Orders that are found by their ids.
struct Orders {
    orders: Vec<OrderFacts>,
    places: HashMap<Uuid, usize>,
}

impl Orders {
    fn of(orders: Vec<OrderFacts>) -> Self {
        let places = orders.iter().enumerate().map(|(place, order)| (order.id.uuid(), place)).collect();
        Self { orders, places }
    }

    /// None of an order that was begun in between two statements.
    fn find(&mut self, id: Uuid) -> Option<&mut OrderFacts> {
        self.orders.get_mut(*self.places.get(&id)?)
    }
}

async fn heads(connection: &mut PgConnection, span: &Span) -> Result<Vec<OrderFacts>, StoreError> {
    let columns = sqlx::query!(
        r#"SELECT coalesce(array_agg(o.id), '{}') AS "id!", coalesce(array_agg(o.follows_id), '{}') AS "follows!: Vec<Option<Uuid>>",
               coalesce(array_agg(o.appliance_id), '{}') AS "appliance!: Vec<Option<Uuid>>",
               coalesce(array_agg(a.model_key), '{}') AS "model!: Vec<Option<String>>",
               coalesce(array_agg(site.branch_id), '{}') AS "branch!: Vec<Option<Uuid>>",
               coalesce(array_agg(o.kind), '{}') AS "kind!", coalesce(array_agg(o.urgency), '{}') AS "urgency!",
               coalesce(array_agg(o.received_at), '{}') AS "received_at!",
               coalesce(array_agg(CASE WHEN (o.outcome = 'repaired' OR o.state = 'proven') AND o.proof_doubted_at IS NULL
                   THEN o.restored_at END), '{}') AS "restored_at!: Vec<Option<DateTime<Utc>>>",
               coalesce(array_agg(o.closed_at), '{}') AS "closed_at!: Vec<Option<DateTime<Utc>>>",
               coalesce(array_agg(o.outcome), '{}') AS "outcome!: Vec<Option<String>>"
           FROM work_order o JOIN site ON site.id = o.site_id LEFT JOIN appliance a ON a.id = o.appliance_id
           WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1)"#,
        span.from,
        span.to
    )
    .fetch_one(connection)
    .await?;
    let (mut follows, mut appliances) = (columns.follows.into_iter(), columns.appliance.into_iter());
    let (mut models, mut branches) = (columns.model.into_iter(), columns.branch.into_iter());
    let (mut kinds, mut urgencies) = (columns.kind.into_iter(), columns.urgency.into_iter());
    let (mut received, mut restored) = (columns.received_at.into_iter(), columns.restored_at.into_iter());
    let (mut closed, mut outcomes) = (columns.closed_at.into_iter(), columns.outcome.into_iter());
    let mut orders = Vec::with_capacity(columns.id.len());
    for id in columns.id {
        let appliance: Option<ApplianceId> =
            stored_option(appliances.next().flatten(), "work_order", "appliance_id", id)?;
        let model: Option<Key> = stored_option(models.next().flatten(), "appliance", "model_key", id)?;
        let branch: Option<BranchId> = stored_option(branches.next().flatten(), "site", "branch_id", id)?;
        orders.push(OrderFacts {
            id: stored(id, "work_order", "id", id)?,
            follows: stored_option(follows.next().flatten(), "work_order", "follows_id", id)?,
            appliance,
            model,
            branch,
            kind: stored(kinds.next().unwrap_or_default(), "work_order", "kind", id)?,
            urgency: stored(urgencies.next().unwrap_or_default(), "work_order", "urgency", id)?,
            received_at: received.next().unwrap_or_default(),
            restored_at: restored.next().flatten(),
            closed_at: closed.next().flatten(),
            outcome: stored_option(outcomes.next().flatten(), "work_order", "outcome", id)?,
            attended: Vec::new(),
            waits: Vec::new(),
            faults: Vec::new(),
            from_our_repair: false,
            symptoms: Vec::new(),
            parts: Vec::new(),
            repairs: Vec::new(),
            waived: false,
            promised: None,
        });
    }
    Ok(orders)
}

/// Visits at which somebody arrived; with those who did, if they are asked for.
async fn visits(connection: &mut PgConnection, span: &Span, orders: &mut Orders) -> Result<(), StoreError> {
    let mut people: HashMap<Uuid, Vec<PersonId>> = HashMap::new();
    if span.people {
        let columns = sqlx::query!(
            r#"SELECT coalesce(array_agg(w.visit_id), '{}') AS "visit!", coalesce(array_agg(w.person_id), '{}') AS "person!"
               FROM visit_person w JOIN visit v ON v.id = w.visit_id JOIN work_order o ON o.id = v.work_order_id
               WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1) AND v.arrived_at IS NOT NULL"#,
            span.from,
            span.to
        )
        .fetch_one(&mut *connection)
        .await?;
        for (visit, person) in columns.visit.into_iter().zip(columns.person) {
            let person = stored(person, "visit_person", "person_id", visit)?;
            people.entry(visit).or_default().push(person);
        }
    }
    let columns = sqlx::query!(
        r#"SELECT coalesce(array_agg(v.id), '{}') AS "id!", coalesce(array_agg(v.work_order_id), '{}') AS "order!",
               coalesce(array_agg(v.arrived_at), '{}') AS "arrived_at!",
               coalesce(array_agg(v.left_at), '{}') AS "left_at!: Vec<Option<DateTime<Utc>>>"
           FROM visit v JOIN work_order o ON o.id = v.work_order_id
           WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1) AND v.arrived_at IS NOT NULL"#,
        span.from,
        span.to
    )
    .fetch_one(connection)
    .await?;
    let times = columns.arrived_at.into_iter().zip(columns.left_at);
    for ((id, order), (arrived_at, left_at)) in columns.id.into_iter().zip(columns.order).zip(times) {
        if let Some(order) = orders.find(order) {
            let people = people.remove(&id).unwrap_or_default();
            order.attended.push(Attendance { arrived_at, left_at, people });
        }
    }
    Ok(())
}

async fn waits(connection: &mut PgConnection, span: &Span, orders: &mut Orders) -> Result<(), StoreError> {
    let columns = sqlx::query!(
        r#"SELECT coalesce(array_agg(w.work_order_id), '{}') AS "order!", coalesce(array_agg(w.reason), '{}') AS "reason!",
               coalesce(array_agg(w.from_at), '{}') AS "from_at!",
               coalesce(array_agg(w.to_at), '{}') AS "to_at!: Vec<Option<DateTime<Utc>>>",
               coalesce(array_agg(w.pauses_clock), '{}') AS "pauses!"
           FROM waiting w JOIN work_order o ON o.id = w.work_order_id
           WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1)"#,
        span.from,
        span.to
    )
    .fetch_one(connection)
    .await?;
    let times = columns.from_at.into_iter().zip(columns.to_at).zip(columns.pauses);
    for ((id, reason), ((from_at, to_at), pauses_clock)) in
        columns.order.into_iter().zip(columns.reason).zip(times)
    {
        let wait = Wait { reason: stored(reason, "waiting", "reason", id)?, from_at, to_at, pauses_clock };
        if let Some(order) = orders.find(id) {
            order.waits.push(wait);
        }
    }
    Ok(())
}

fn position(word: &str, table: &'static str, order: Uuid) -> Result<Position, StoreError> {
    word.parse().map_err(|reason: domain::vocabulary::UnknownTerm| StoreError::BadRow {
        table,
        column: "position",
        row: order.to_string(),
        reason: reason.to_string(),
    })
}

/// Faults that were confirmed and stand.
async fn faults(connection: &mut PgConnection, span: &Span, orders: &mut Orders) -> Result<(), StoreError> {
    let columns = sqlx::query!(
        r#"SELECT coalesce(array_agg(f.work_order_id), '{}') AS "order!", coalesce(array_agg(f.position), '{}') AS "position!",
               coalesce(array_agg(f.cause IS NOT DISTINCT FROM 'previous_repair'), '{}') AS "ours!"
           FROM finding f JOIN work_order o ON o.id = f.work_order_id
           WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1) AND o.kind = 'corrective'
               AND f.finding IN ('degraded', 'failed') AND f.retraction_reason IS NULL AND f.found_at <= $3
               AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id)"#,
        span.from,
        span.to,
        span.as_of
    )
    .fetch_one(connection)
    .await?;
    for ((id, word), ours) in columns.order.into_iter().zip(columns.position).zip(columns.ours) {
        let position = position(&word, "finding", id)?;
        if let Some(order) = orders.find(id) {
            order.faults.push(position);
            order.from_our_repair |= ours;
        }
    }
    Ok(())
}

async fn symptoms(connection: &mut PgConnection, span: &Span, orders: &mut Orders) -> Result<(), StoreError> {
    let columns = sqlx::query!(
        r#"SELECT coalesce(array_agg(s.work_order_id), '{}') AS "order!", coalesce(array_agg(s.code), '{}') AS "code!"
           FROM symptom s JOIN work_order o ON o.id = s.work_order_id
           WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1) AND o.kind = 'corrective'"#,
        span.from,
        span.to
    )
    .fetch_one(connection)
    .await?;
    for (id, code) in columns.order.into_iter().zip(columns.code) {
        let code: Key = stored(code, "symptom", "code", id)?;
        if let Some(order) = orders.find(id) {
            order.symptoms.push(code);
        }
    }
    Ok(())
}

async fn parts(connection: &mut PgConnection, span: &Span, orders: &mut Orders) -> Result<(), StoreError> {
    let columns = sqlx::query!(
        r#"SELECT coalesce(array_agg(l.work_order_id), '{}') AS "order!", coalesce(array_agg(l.state), '{}') AS "state!",
               coalesce(array_agg(l.position), '{}') AS "position!: Vec<Option<String>>"
           FROM part_line l JOIN work_order o ON o.id = l.work_order_id
           WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1) AND o.kind = 'corrective'"#,
        span.from,
        span.to
    )
    .fetch_one(connection)
    .await?;
    for ((id, state), word) in columns.order.into_iter().zip(columns.state).zip(columns.position) {
        let position = word.map(|word| position(&word, "part_line", id)).transpose()?;
        let part = Part { state: stored(state, "part_line", "state", id)?, position };
        if let Some(order) = orders.find(id) {
            order.parts.push(part);
        }
    }
    Ok(())
}

/// Orders that did without a part of their proof.
async fn waivers(connection: &mut PgConnection, span: &Span, orders: &mut Orders) -> Result<(), StoreError> {
    let waived = sqlx::query_scalar!(
        r#"SELECT coalesce(array_agg(w.work_order_id), '{}') AS "order!"
           FROM waiver w JOIN work_order o ON o.id = w.work_order_id
           WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1)"#,
        span.from,
        span.to
    )
    .fetch_one(connection)
    .await?;
    for id in waived {
        if let Some(order) = orders.find(id) {
            order.waived = true;
        }
    }
    Ok(())
}

async fn repairs(connection: &mut PgConnection, span: &Span, orders: &mut Orders) -> Result<(), StoreError> {
    let columns = sqlx::query!(
        r#"SELECT coalesce(array_agg(r.work_order_id), '{}') AS "order!", coalesce(array_agg(r.position), '{}') AS "position!",
               coalesce(array_agg(r.action), '{}') AS "action!"
           FROM (SELECT DISTINCT t.work_order_id, t.position, t.action
                 FROM action_taken t JOIN work_order o ON o.id = t.work_order_id
                 WHERE o.received_at < $2 AND (o.closed_at IS NULL OR o.closed_at >= $1) AND o.kind = 'corrective'
                     AND t.taken_at <= $3) r"#,
        span.from,
        span.to,
        span.as_of
    )
    .fetch_one(connection)
    .await?;
    for ((id, word), action) in columns.order.into_iter().zip(columns.position).zip(columns.action) {
        let position = position(&word, "action_taken", id)?;
        let action: Key = stored(action, "action_taken", "action", id)?;
        if let Some(order) = orders.find(id) {
            order.repairs.push((position, action));
        }
    }
    Ok(())
}

async fn removed(connection: &mut PgConnection) -> Result<HashMap<ApplianceId, DateTime<Utc>>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT a.id, max(audit.at) AS "at!" FROM appliance a JOIN audit ON audit.subject = a.id
           WHERE a.state = 'removed' AND 'state' = ANY (audit.changed_fields) GROUP BY a.id"#
    )
    .fetch_all(connection)
    .await?;
    rows.into_iter().map(|row| Ok((stored(row.id, "appliance", "id", row.id)?, row.at))).collect()
}

/// What groups are called.
#[derive(Debug, Clone, Default)]
pub struct Names {
    pub branches: HashMap<BranchId, String>,
    pub people: HashMap<PersonId, String>,
    /// Titles of the newest versions.
    pub models: HashMap<Key, String>,
}

pub async fn names(database: &Database) -> Result<Names, StoreError> {
    let mut names = Names { models: model_titles(database).await?, ..Names::default() };
    let mut connection = database.pool().acquire().await?;
    for row in sqlx::query!("SELECT id, name FROM branch").fetch_all(&mut *connection).await? {
        names.branches.insert(stored(row.id, "branch", "id", row.id)?, row.name);
    }
    for row in sqlx::query!("SELECT id, name FROM person").fetch_all(&mut *connection).await? {
        names.people.insert(stored(row.id, "person", "id", row.id)?, row.name);
    }
    Ok(names)
}
