//! Catalogues of what can be wrong with a model, and the faults in them. No version ever changes.

use std::collections::BTreeMap;

use domain::equipment::{Fault, FaultCatalogue};
use domain::text::Key;
use domain::time::Timestamp;
use serde_json::Value;

use crate::catalogue::{Kept, NewVersion, Row};
use crate::error::{Readable, stored};
use crate::{Creation, Database, StoreError, UnitOfWork};

/// A version of a fault to keep.
#[derive(Debug, Clone)]
pub struct NewFault {
    pub key: Key,
    pub version: u32,
    pub position: &'static str,
    pub payload: Value,
    pub body_sha256: Vec<u8>,
}

/// A version of a fault that is kept.
#[derive(Debug, Clone)]
pub struct KeptFault {
    pub model: Key,
    pub fault: Fault,
    pub created_at: Timestamp,
}

/// Keeps a version of a catalogue, `new.key` being its model, unless one of the number is there.
pub async fn insert(unit: &mut UnitOfWork, new: &NewVersion<'_>) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let inserted = sqlx::query!(
        "INSERT INTO fault_catalogue (model_key, version, payload, built_in, body_sha256, created_at)
         VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (model_key, version) DO NOTHING",
        new.key,
        new.version.cast_signed(),
        new.payload,
        new.built_in,
        new.body_sha256,
        now
    )
    .execute(unit.connection())
    .await?
    .rows_affected();
    let stored = sqlx::query_scalar!(
        "SELECT body_sha256 FROM fault_catalogue WHERE model_key = $1 AND version = $2",
        new.key,
        new.version.cast_signed()
    )
    .fetch_optional(unit.connection())
    .await?;
    Ok(Creation::judge(inserted, stored.as_deref(), new.body_sha256))
}

/// Keeps the faults of a catalogue that are not there yet.
pub async fn insert_faults(
    unit: &mut UnitOfWork,
    model: &str,
    faults: &[NewFault],
) -> Result<(), StoreError> {
    let now = unit.now().instant();
    let keys: Vec<String> = faults.iter().map(|fault| fault.key.to_string()).collect();
    let versions: Vec<i32> = faults.iter().map(|fault| fault.version.cast_signed()).collect();
    let positions: Vec<String> = faults.iter().map(|fault| fault.position.to_owned()).collect();
    let payloads: Vec<Value> = faults.iter().map(|fault| fault.payload.clone()).collect();
    let hashes: Vec<Vec<u8>> = faults.iter().map(|fault| fault.body_sha256.clone()).collect();
    sqlx::query!(
        "INSERT INTO fault (model_key, key, version, position, payload, body_sha256, created_at)
         SELECT $1, f.key, f.version, f.position, f.payload, f.body_sha256, $7
         FROM UNNEST($2::text[], $3::int[], $4::text[], $5::jsonb[], $6::bytea[])
             AS f (key, version, position, payload, body_sha256)
         ON CONFLICT (model_key, key, version) DO NOTHING",
        model,
        &keys,
        &versions,
        &positions,
        &payloads,
        &hashes,
        now
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// The hash of every version of every fault of a model.
pub async fn fault_hashes(
    unit: &mut UnitOfWork,
    model: &str,
) -> Result<BTreeMap<(Key, u32), Vec<u8>>, StoreError> {
    let rows = sqlx::query!("SELECT key, version, body_sha256 FROM fault WHERE model_key = $1", model)
        .fetch_all(unit.connection())
        .await?;
    rows.into_iter()
        .map(|row| {
            let key = stored(row.key, "fault", "key", model)?;
            Ok(((key, row.version.cast_unsigned()), row.body_sha256))
        })
        .collect()
}

/// The number of the newest version of a model's catalogue below `version`, 0 if there is none.
pub async fn newest_below(unit: &mut UnitOfWork, model: &str, version: u32) -> Result<u32, StoreError> {
    let newest = sqlx::query_scalar!(
        "SELECT max(version) FROM fault_catalogue WHERE model_key = $1 AND version < $2",
        model,
        version.cast_signed()
    )
    .fetch_one(unit.connection())
    .await?;
    Ok(newest.map_or(0, i32::cast_unsigned))
}

/// One version of a model's catalogue, or the newest.
pub async fn find(
    database: &Database,
    model: &str,
    version: Option<u32>,
) -> Result<Option<Kept<FaultCatalogue>>, StoreError> {
    let mut connection = database.pool().acquire().await?;
    find_over(&mut connection, model, version).await
}

/// [`find`] as it stands in a unit of work.
pub async fn get(
    unit: &mut UnitOfWork,
    model: &str,
    version: Option<u32>,
) -> Result<Option<Kept<FaultCatalogue>>, StoreError> {
    find_over(unit.connection(), model, version).await
}

async fn find_over(
    connection: &mut sqlx::PgConnection,
    model: &str,
    version: Option<u32>,
) -> Result<Option<Kept<FaultCatalogue>>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT model_key AS key, version, payload, built_in, created_at FROM fault_catalogue
         WHERE model_key = $1 AND ($2::integer IS NULL OR version = $2) ORDER BY version DESC LIMIT 1",
        model,
        version.map(u32::cast_signed)
    )
    .fetch_optional(connection)
    .await?
    .map(|row| row.entry("fault_catalogue"))
    .transpose()
}

/// The newest catalogue of each model, or of one.
pub async fn newest(
    database: &Database,
    model: Option<&str>,
) -> Result<Vec<Kept<FaultCatalogue>>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT DISTINCT ON (model_key) model_key AS key, version, payload, built_in, created_at FROM fault_catalogue
         WHERE $1::text IS NULL OR model_key = $1 ORDER BY model_key, version DESC",
        model
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(|row| row.entry("fault_catalogue"))
    .readable()
}

/// One version of a fault, or its newest.
pub async fn find_fault(
    database: &Database,
    model: &Key,
    key: &str,
    version: Option<u32>,
) -> Result<Option<KeptFault>, StoreError> {
    let kept = sqlx::query_as!(
        Row,
        "SELECT key, version, payload, false AS \"built_in!\", created_at FROM fault
         WHERE model_key = $1 AND key = $2 AND ($3::integer IS NULL OR version = $3) ORDER BY version DESC LIMIT 1",
        model.as_str(),
        key,
        version.map(u32::cast_signed)
    )
    .fetch_optional(database.pool())
    .await?;
    kept.map(|row| {
        let Kept { entry, created_at, .. } = row.entry("fault")?;
        Ok(KeptFault { model: model.clone(), fault: entry, created_at })
    })
    .transpose()
}

/// At which position a version of a fault stands; none if it is not kept.
pub async fn position_of(
    unit: &mut UnitOfWork,
    model: &str,
    key: &Key,
    version: u32,
) -> Result<Option<String>, StoreError> {
    let position = sqlx::query_scalar!(
        "SELECT position FROM fault WHERE model_key = $1 AND key = $2 AND version = $3",
        model,
        key.as_str(),
        version.cast_signed()
    );
    Ok(position.fetch_optional(unit.connection()).await?)
}

/// What a diagnosis of a model computes with, by number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Newest {
    pub catalogue: u32,
    /// The knowledge that was learned from this version of the catalogue.
    pub knowledge: Option<i64>,
    /// Grows with every version of every procedure.
    pub procedures: i64,
}

/// The newest catalogue of a model with the newest knowledge that was learned from it; or the knowledge that is
/// asked for with the catalogue that it was learned from. None if there is none.
pub async fn newest_with_knowledge(
    database: &Database,
    model: &str,
    knowledge: Option<i64>,
) -> Result<Option<Newest>, StoreError> {
    let row = sqlx::query!(
        r#"WITH learned AS (
               SELECT n, (made_from->'faults'->$1->>'catalogue_version')::integer AS catalogue
               FROM knowledge_version WHERE made_from->'faults' ? $1 AND ($2::bigint IS NULL OR n = $2)),
           chosen AS (
               SELECT CASE WHEN $2::bigint IS NULL
                   THEN (SELECT max(version) FROM fault_catalogue WHERE model_key = $1)
                   ELSE (SELECT catalogue FROM learned) END AS catalogue)
           SELECT catalogue AS "catalogue?",
               (SELECT max(n) FROM learned WHERE learned.catalogue = chosen.catalogue) AS "knowledge?",
               (SELECT count(*) FROM procedure) AS "procedures!"
           FROM chosen"#,
        model,
        knowledge
    )
    .fetch_one(database.pool())
    .await?;
    Ok(row.catalogue.map(|catalogue| Newest {
        catalogue: catalogue.cast_unsigned(),
        knowledge: row.knowledge,
        procedures: row.procedures,
    }))
}

/// The newest catalogue of each model that was there at an instant, by its model.
pub async fn newest_known_at(
    unit: &mut UnitOfWork,
    known_at: Timestamp,
) -> Result<Vec<(Key, u32)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT model_key, max(version) AS "version!" FROM fault_catalogue WHERE created_at <= $1
           GROUP BY model_key ORDER BY model_key"#,
        known_at.instant()
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let model = stored(row.model_key, "fault_catalogue", "model_key", row.version)?;
            Ok((model, row.version.cast_unsigned()))
        })
        .collect()
}
