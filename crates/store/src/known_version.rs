//! Versions of models and procedures: rows that never change once they are there.

use domain::equipment::Model;
use domain::procedure::Procedure;

use crate::error::stored_json;
use crate::{Database, StoreError, UnitOfWork};

pub async fn model(database: &Database, key: &str, version: u32) -> Result<Option<Model>, StoreError> {
    let payload = sqlx::query_scalar!(
        "SELECT payload FROM model WHERE key = $1 AND version = $2",
        key,
        version.cast_signed()
    )
    .fetch_optional(database.pool())
    .await?;
    payload.map(|payload| stored_json(payload, "model", "payload", format!("{key} {version}"))).transpose()
}

pub async fn procedure(
    database: &Database,
    key: &str,
    version: u32,
) -> Result<Option<Procedure>, StoreError> {
    let payload = sqlx::query_scalar!(
        "SELECT payload FROM procedure WHERE key = $1 AND version = $2",
        key,
        version.cast_signed()
    )
    .fetch_optional(database.pool())
    .await?;
    payload
        .map(|payload| stored_json(payload, "procedure", "payload", format!("{key} {version}")))
        .transpose()
}

/// The newest version of each of these procedures that there is.
pub async fn newest_procedures(
    database: &Database,
    keys: &[String],
) -> Result<Vec<(String, u32)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT key, max(version) AS "version!" FROM procedure WHERE key = ANY($1) GROUP BY key ORDER BY key"#,
        keys
    );
    let rows = rows.fetch_all(database.pool()).await?;
    Ok(rows.into_iter().map(|row| (row.key, row.version.cast_unsigned())).collect())
}

/// The newest version of every procedure.
pub async fn every_newest_procedure(database: &Database) -> Result<Vec<(String, u32)>, StoreError> {
    let rows =
        sqlx::query!(r#"SELECT key, max(version) AS "version!" FROM procedure GROUP BY key ORDER BY key"#);
    let rows = rows.fetch_all(database.pool()).await?;
    Ok(rows.into_iter().map(|row| (row.key, row.version.cast_unsigned())).collect())
}

/// The number of a model's newest version.
pub async fn newest_model(unit: &mut UnitOfWork, key: &str) -> Result<Option<u32>, StoreError> {
    let newest = sqlx::query_scalar!("SELECT max(version) FROM model WHERE key = $1", key);
    Ok(newest.fetch_one(unit.connection()).await?.map(i32::cast_unsigned))
}
