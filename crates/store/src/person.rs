//! People of the service company, and programs that act for it.

use chrono::{DateTime, Utc};
use domain::id::PersonId;
use domain::role::Role;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored};
use crate::page::list;
use crate::search::containing;
use crate::{Creation, Database, Page, PageRequest, Position, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewPerson {
    pub id: PersonId,
    pub name: Name,
    pub role: Role,
    pub skills: Vec<Key>,
}

#[derive(Debug, Clone)]
pub struct Person {
    pub id: PersonId,
    pub name: Name,
    pub role: Role,
    pub skills: Vec<Key>,
    pub active: bool,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    name: String,
    role: String,
    skills: Vec<String>,
    active: bool,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Person {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        let skills = row.skills.into_iter().map(|skill| stored(skill, "person", "skills", id));
        Ok(Self {
            id: stored(row.id, "person", "id", id)?,
            name: stored(row.name, "person", "name", id)?,
            role: stored(row.role, "person", "role", id)?,
            skills: skills.collect::<Result<_, _>>()?,
            active: row.active,
            version: row.version,
            created_at: stored(row.created_at, "person", "created_at", id)?,
        })
    }
}

fn words(skills: &[Key]) -> Vec<String> {
    skills.iter().map(ToString::to_string).collect()
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewPerson, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM person WHERE id = $1",
        sqlx::query!(
            "INSERT INTO person (id, name, role, skills, body_sha256, created_at) VALUES ($1, $2, $3, $4, $5, $6)
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.name.as_str(),
            new.role.word(),
            &words(&new.skills),
            hash,
            now,
        )
    ))
}

/// The names of all who work here, but for programs.
pub async fn names_of_people(unit: &mut UnitOfWork) -> Result<Vec<String>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT name FROM person WHERE active AND role <> 'integration'")
        .fetch_all(unit.connection())
        .await?)
}

/// Writes all fields if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, person: &Person, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE person SET name = $3, role = $4, skills = $5, active = $6, version = version + 1
         WHERE id = $1 AND version = $2",
        person.id.uuid(),
        version,
        person.name.as_str(),
        person.role.word(),
        &words(&person.skills),
        person.active,
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

pub async fn get(unit: &mut UnitOfWork, id: PersonId) -> Result<Option<Person>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, name, role, skills, active, version, created_at FROM person WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?
    .map(Person::try_from)
    .readable()
}

pub async fn find(database: &Database, id: PersonId) -> Result<Option<Person>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, name, role, skills, active, version, created_at FROM person WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(database.pool())
    .await?
    .map(Person::try_from)
    .readable()
}

/// People whose name contains `search`, of the role if one is given.
pub async fn list(
    database: &Database,
    search: Option<&str>,
    role: Option<Role>,
    request: &PageRequest,
) -> Result<Page<Person>, StoreError> {
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        "SELECT id, name, role, skills, active, version, created_at FROM person
         WHERE ($1::text IS NULL OR lower(name) LIKE lower($1)) AND ($2::text IS NULL OR role = $2)",
        ["$3", "$4", "$5"],
        search.map(containing),
        role.map(Role::word),
    );
    let items = rows.into_iter().map(Person::try_from);
    Ok(request.page(items, |person: &Person| Position {
        created_at: person.created_at.instant(),
        id: person.id.uuid(),
    }))
}

/// The names of all people, gone ones too: what they did is told by name.
pub async fn names(database: &Database, ids: &[PersonId]) -> Result<Vec<(PersonId, String)>, StoreError> {
    let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
    sqlx::query!("SELECT id, name FROM person WHERE id = ANY($1)", &ids)
        .fetch_all(database.pool())
        .await?
        .into_iter()
        .map(|row| Ok((stored(row.id, "person", "id", row.id)?, row.name)))
        .readable()
}

/// Whoever can be sent, by name.
pub async fn technicians(database: &Database) -> Result<Vec<(PersonId, String)>, StoreError> {
    sqlx::query!(
        "SELECT id, name FROM person WHERE active AND role = 'technician' ORDER BY name, id LIMIT 500"
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(|row| Ok((stored(row.id, "person", "id", row.id)?, row.name)))
    .readable()
}
