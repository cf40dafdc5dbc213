//! Visits, told by their times, and who is sent.

use chrono::{DateTime, Utc};
use domain::id::{PersonId, VisitId, WorkOrderId};
use domain::text::{Name, Words};
use domain::time::Timestamp;
use domain::work::{VisitResult, VisitTimes};
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_list, stored_option};
use crate::{Creation, Database, ReadScope, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewVisit {
    pub id: VisitId,
    pub work_order: WorkOrderId,
    pub planned_at: Timestamp,
    pub people: Vec<PersonId>,
    /// Why somebody is booked who is booked elsewhere about that time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overlap_reason: Option<Words>,
}

/// Somebody's open visit in another kitchen.
#[derive(Debug, Clone)]
pub struct Booking {
    pub person: PersonId,
    pub name: Name,
    pub order_number: i64,
    pub planned_at: Timestamp,
}

/// Open visits of these people that are planned near an instant in another kitchen than this order's.
pub async fn bookings_elsewhere(
    unit: &mut UnitOfWork,
    people: &[PersonId],
    order: WorkOrderId,
    (from, to): (Timestamp, Timestamp),
) -> Result<Vec<Booking>, StoreError> {
    let people: Vec<Uuid> = people.iter().map(|person| person.uuid()).collect();
    let rows = sqlx::query!(
        "SELECT visit.id, visit_person.person_id, person.name, work_order.number, visit.planned_at
         FROM visit JOIN visit_person ON visit_person.visit_id = visit.id JOIN person ON person.id = visit_person.person_id
             JOIN work_order ON work_order.id = visit.work_order_id
         WHERE visit_person.person_id = ANY($1) AND visit.planned_at BETWEEN $3 AND $4
             AND visit.left_at IS NULL AND visit.missed_at IS NULL AND visit.called_off_at IS NULL
             AND work_order.site_id <> (SELECT site_id FROM work_order WHERE id = $2)
         ORDER BY visit.planned_at, visit.id",
        &people,
        order.uuid(),
        from.instant(),
        to.instant()
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(Booking {
                person: stored(row.person_id, "visit_person", "person_id", row.id)?,
                name: stored(row.name, "person", "name", row.person_id)?,
                order_number: row.number,
                planned_at: stored(row.planned_at, "visit", "planned_at", row.id)?,
            })
        })
        .readable()
}

#[derive(Debug, Clone)]
pub struct Visit {
    pub id: VisitId,
    pub work_order: WorkOrderId,
    pub times: VisitTimes,
    pub people: Vec<PersonId>,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    work_order_id: Uuid,
    planned_at: DateTime<Utc>,
    set_out_at: Option<DateTime<Utc>>,
    arrived_at: Option<DateTime<Utc>>,
    left_at: Option<DateTime<Utc>>,
    missed_at: Option<DateTime<Utc>>,
    called_off_at: Option<DateTime<Utc>>,
    result: Option<String>,
    people: Vec<Uuid>,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Visit {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        let time = |value, column| stored_option(value, "visit", column, id);
        Ok(Self {
            id: stored(row.id, "visit", "id", id)?,
            work_order: stored(row.work_order_id, "visit", "work_order_id", id)?,
            times: VisitTimes {
                planned_at: stored(row.planned_at, "visit", "planned_at", id)?,
                set_out_at: time(row.set_out_at, "set_out_at")?,
                arrived_at: time(row.arrived_at, "arrived_at")?,
                left_at: time(row.left_at, "left_at")?,
                missed_at: time(row.missed_at, "missed_at")?,
                called_off_at: time(row.called_off_at, "called_off_at")?,
                result: stored_option(row.result, "visit", "result", id)?,
            },
            people: stored_list(row.people, "visit_person", "person_id", id)?,
            version: row.version,
            created_at: stored(row.created_at, "visit", "created_at", id)?,
        })
    }
}

macro_rules! visits {
    ($connection:expr, $condition:literal $(, $parameter:expr)* $(,)?) => {
        sqlx::query_as!(
            Row,
            r#"SELECT id, work_order_id, planned_at, set_out_at, arrived_at, left_at, missed_at, called_off_at, result,
                   ARRAY(SELECT person_id FROM visit_person WHERE visit_id = visit.id ORDER BY person_id)
                       AS "people!",
                   version, created_at
               FROM visit WHERE "# + $condition
            $(, $parameter)*
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(Visit::try_from)
        .readable::<Vec<_>>()?
    };
}

/// The hash of the visit that is stored under this id.
pub async fn known_hash(unit: &mut UnitOfWork, id: VisitId) -> Result<Option<Vec<u8>>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT body_sha256 FROM visit WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?)
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewVisit, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let creation = create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM visit WHERE id = $1",
        sqlx::query!(
            "INSERT INTO visit (id, work_order_id, planned_at, body_sha256, created_at) VALUES ($1, $2, $3, $4, $5)
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            new.planned_at.instant(),
            hash,
            now,
        )
    );
    if creation == Creation::Created {
        set_people(unit, new.id, &new.people).await?;
    }
    Ok(creation)
}

/// Replaces who is sent, and keeps who was on the visit from when to when.
pub async fn set_people(
    unit: &mut UnitOfWork,
    visit: VisitId,
    people: &[PersonId],
) -> Result<(), StoreError> {
    let people: Vec<Uuid> = people.iter().map(|person| person.uuid()).collect();
    sqlx::query!(
        "DELETE FROM visit_person WHERE visit_id = $1 AND person_id <> ALL($2)",
        visit.uuid(),
        &people
    )
    .execute(unit.connection())
    .await?;
    sqlx::query!(
        "INSERT INTO visit_person (visit_id, person_id) SELECT $1, person_id FROM UNNEST($2::uuid[]) AS p (person_id)
         ON CONFLICT DO NOTHING",
        visit.uuid(),
        &people
    )
    .execute(unit.connection())
    .await?;
    let now = unit.now().instant();
    sqlx::query!(
        "UPDATE visit_presence SET to_at = greatest(from_at, $3)
         WHERE visit_id = $1 AND person_id <> ALL($2) AND to_at IS NULL",
        visit.uuid(),
        &people,
        now
    )
    .execute(unit.connection())
    .await?;
    // Whoever comes back in the same instant was never away.
    sqlx::query!(
        "INSERT INTO visit_presence (visit_id, person_id, from_at)
         SELECT $1, person_id, $3 FROM UNNEST($2::uuid[]) AS p (person_id)
         WHERE NOT EXISTS (SELECT FROM visit_presence AS here
             WHERE here.visit_id = $1 AND here.person_id = p.person_id AND here.to_at IS NULL)
         ON CONFLICT (visit_id, person_id, from_at) DO UPDATE SET to_at = NULL",
        visit.uuid(),
        &people,
        now
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Everybody's time on a visit ends: it was called off.
pub async fn end_presence(unit: &mut UnitOfWork, visit: VisitId, at: Timestamp) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE visit_presence SET to_at = greatest(from_at, $2) WHERE visit_id = $1 AND to_at IS NULL",
        visit.uuid(),
        at.instant()
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Writes the times if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, visit: &Visit, version: i64) -> Result<bool, StoreError> {
    let times = &visit.times;
    let updated = sqlx::query!(
        "UPDATE visit SET planned_at = $3, set_out_at = $4, arrived_at = $5, left_at = $6, missed_at = $7,
             called_off_at = $8, result = $9, version = version + 1
         WHERE id = $1 AND version = $2",
        visit.id.uuid(),
        version,
        times.planned_at.instant(),
        times.set_out_at.map(Timestamp::instant),
        times.arrived_at.map(Timestamp::instant),
        times.left_at.map(Timestamp::instant),
        times.missed_at.map(Timestamp::instant),
        times.called_off_at.map(Timestamp::instant),
        times.result.map(VisitResult::word),
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

pub async fn get(unit: &mut UnitOfWork, id: VisitId) -> Result<Option<Visit>, StoreError> {
    Ok(visits!(unit.connection(), "id = $1", id.uuid()).pop())
}

/// The visits of an order in the order of their planned times, as they stand in this unit of work.
pub async fn of_order_within(unit: &mut UnitOfWork, order: WorkOrderId) -> Result<Vec<Visit>, StoreError> {
    Ok(visits!(unit.connection(), "work_order_id = $1 ORDER BY planned_at, id", order.uuid()))
}

pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<Visit>, StoreError> {
    Ok(visits!(database.pool(), "work_order_id = $1 ORDER BY planned_at, id", order.uuid()))
}

pub async fn find(database: &Database, scope: &ReadScope, id: VisitId) -> Result<Option<Visit>, StoreError> {
    let mut visits = visits!(
        database.pool(),
        "id = $1 AND ($2::uuid IS NULL OR EXISTS (SELECT FROM assignment
             WHERE assignment.person_id = $2 AND assignment.work_order_id = visit.work_order_id))",
        id.uuid(),
        scope.person(),
    );
    Ok(visits.pop())
}

/// Whose day it is sees at most so many visits.
pub const OF_A_DAY: u8 = 20;

/// The visits that somebody is sent to, each with the number of its order, in the order of their planned times: those that are
/// open and planned by the end of tomorrow, and those that he left today, by the days of each kitchen's zone. One more than are
/// shown tells that some are left out.
pub async fn of_day(
    database: &Database,
    person: PersonId,
    now: Timestamp,
) -> Result<Vec<(VisitId, i64)>, StoreError> {
    sqlx::query!(
        "SELECT visit.id, work_order.number
         FROM visit_person JOIN visit ON visit.id = visit_person.visit_id
             JOIN work_order ON work_order.id = visit.work_order_id JOIN site ON site.id = work_order.site_id
         WHERE visit_person.person_id = $1 AND visit.missed_at IS NULL AND visit.called_off_at IS NULL
             AND CASE WHEN visit.left_at IS NULL
                 THEN (visit.planned_at AT TIME ZONE site.time_zone)::date
                     <= ($2::timestamptz AT TIME ZONE site.time_zone)::date + 1
                 ELSE (visit.left_at AT TIME ZONE site.time_zone)::date
                     = ($2::timestamptz AT TIME ZONE site.time_zone)::date END
         ORDER BY visit.planned_at, visit.id LIMIT $3",
        person.uuid(),
        now.instant(),
        i64::from(OF_A_DAY) + 1
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(|row| Ok((stored(row.id, "visit", "id", row.id)?, row.number)))
    .readable()
}

/// Of these people, those who cannot be sent: unknown or no longer with the company.
pub async fn not_available(unit: &mut UnitOfWork, people: &[PersonId]) -> Result<Vec<PersonId>, StoreError> {
    let ids: Vec<Uuid> = people.iter().map(|person| person.uuid()).collect();
    let active: Vec<Uuid> = sqlx::query_scalar!("SELECT id FROM person WHERE id = ANY($1) AND active", &ids)
        .fetch_all(unit.connection())
        .await?;
    Ok(people.iter().copied().filter(|person| !active.contains(&person.uuid())).collect())
}

/// Those after an id, by id: what a walk over all of them reads.
pub(crate) async fn walk(database: &Database, after: Uuid, limit: i64) -> Result<Vec<Uuid>, StoreError> {
    let ids = sqlx::query_scalar!("SELECT id FROM visit WHERE id > $1 ORDER BY id LIMIT $2", after, limit)
        .fetch_all(database.pool())
        .await?;
    visits!(database.pool(), "id = ANY($1)", &ids);
    Ok(ids)
}
