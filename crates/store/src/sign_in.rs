//! By which name and password people sign in to the pages.

use domain::id::PersonId;
use domain::role::Role;

use crate::error::{Readable, stored};
use crate::{Database, StoreError, UnitOfWork};

/// How an active person signs in.
#[derive(Debug, Clone)]
pub struct SignIn {
    pub person: PersonId,
    pub person_name: String,
    pub role: Role,
    /// In lower case.
    pub name: String,
    /// As a PHC string; none where no password is asked for.
    pub password: Option<String>,
}

macro_rules! sign_ins {
    ($database:expr, $condition:literal $(, $parameter:expr)* $(,)?) => {
        sqlx::query!(
            "SELECT person.id, person.name AS person_name, person.role, sign_in.name, sign_in.password
             FROM sign_in JOIN person ON person.id = sign_in.person_id
             WHERE person.active AND " + $condition
            $(, $parameter)*
        )
        .fetch_all($database.pool())
        .await?
        .into_iter()
        .map(|row| {
            Ok(SignIn {
                person: stored(row.id, "sign_in", "person_id", row.id)?,
                person_name: row.person_name,
                role: stored(row.role, "person", "role", row.id)?,
                name: row.name,
                password: row.password,
            })
        })
    };
}

/// Whoever signs in by this name, in whatever case it is written.
pub async fn by_name(database: &Database, name: &str) -> Result<Option<SignIn>, StoreError> {
    sign_ins!(database, "sign_in.name = lower($1)", name).readable()
}

pub async fn of_person(database: &Database, person: PersonId) -> Result<Option<SignIn>, StoreError> {
    sign_ins!(database, "person.id = $1", person.uuid()).readable()
}

/// Everybody who signs in without a password.
pub async fn open(database: &Database) -> Result<Vec<SignIn>, StoreError> {
    sign_ins!(database, "sign_in.password IS NULL ORDER BY person.created_at, person.id").readable()
}

/// Sets the name and the password by which a person signs in.
pub async fn set(
    unit: &mut UnitOfWork,
    person: PersonId,
    name: &str,
    password: Option<&str>,
) -> Result<(), StoreError> {
    let now = unit.now().instant();
    sqlx::query!(
        "INSERT INTO sign_in (person_id, name, password, set_at) VALUES ($1, lower($2), $3, $4)
         ON CONFLICT (person_id) DO UPDATE
             SET name = excluded.name, password = excluded.password, set_at = excluded.set_at",
        person.uuid(),
        name,
        password,
        now,
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}
