//! Knowledge versions: what was learned, as it stood. A version never changes once it is there.

use std::collections::BTreeMap;

use domain::diagnosis::Knowledge as FaultKnowledge;
use domain::known_good::learned::LearnedMeasurement;
use domain::time::Timestamp;
use serde_json::{Value, json};
use sqlx::PgConnection;

use crate::error::{stored, stored_json};
use crate::{Database, StoreError, UnitOfWork};

/// A version as far as healthy readings are concerned.
#[derive(Debug, Clone)]
pub struct Knowledge {
    pub n: i64,
    pub known_good: Vec<LearnedMeasurement>,
    pub made_at: Timestamp,
}

/// What was learned.
#[derive(Debug, Clone, Default)]
pub struct Learned {
    pub known_good: Vec<LearnedMeasurement>,
    /// Of the faults of each model, by its key.
    pub faults: BTreeMap<String, FaultKnowledge>,
}

/// The newest version's number.
pub async fn newest(database: &Database) -> Result<Option<i64>, StoreError> {
    newest_over(&mut *database.pool().acquire().await?).await
}

/// [`newest`] as it stands in a unit of work.
pub async fn newest_within(unit: &mut UnitOfWork) -> Result<Option<i64>, StoreError> {
    newest_over(unit.connection()).await
}

async fn newest_over(connection: &mut PgConnection) -> Result<Option<i64>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT max(n) FROM knowledge_version").fetch_one(connection).await?)
}

pub async fn get(database: &Database, n: i64) -> Result<Option<Knowledge>, StoreError> {
    get_over(&mut *database.pool().acquire().await?, n).await
}

/// [`get`] as it stands in a unit of work.
pub async fn get_within(unit: &mut UnitOfWork, n: i64) -> Result<Option<Knowledge>, StoreError> {
    get_over(unit.connection(), n).await
}

async fn get_over(connection: &mut PgConnection, n: i64) -> Result<Option<Knowledge>, StoreError> {
    let row = sqlx::query!(
        r#"SELECT coalesce(payload->'known_good', '[]') AS "known_good!", made_at FROM knowledge_version WHERE n = $1"#,
        n
    )
    .fetch_optional(connection)
    .await?;
    row.map(|row| {
        Ok(Knowledge {
            n,
            known_good: stored_json(row.known_good, "knowledge_version", "payload", n)?,
            made_at: stored(row.made_at, "knowledge_version", "made_at", n)?,
        })
    })
    .transpose()
}

/// Keeps what was learned as version `n`.
pub async fn insert(
    unit: &mut UnitOfWork,
    n: i64,
    learned: &Learned,
    made_from: &Value,
) -> Result<(), StoreError> {
    let payload = json!({ "known_good": learned.known_good, "faults": learned.faults });
    let now = unit.now().instant();
    sqlx::query!(
        "INSERT INTO knowledge_version (n, payload, made_from, made_at) VALUES ($1, $2, $3, $4)",
        n,
        payload,
        made_from,
        now
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// What a version knows of a model's faults; none if it knows nothing of them.
pub async fn faults(database: &Database, n: i64, model: &str) -> Result<Option<FaultKnowledge>, StoreError> {
    let known = sqlx::query_scalar!(
        r#"SELECT payload->'faults'->$2 AS "faults" FROM knowledge_version WHERE n = $1"#,
        n,
        model
    )
    .fetch_optional(database.pool())
    .await?;
    known.flatten().map(|known| stored_json(known, "knowledge_version", "payload", n)).transpose()
}
