//! Parts: what can be ordered and fitted.

use chrono::{DateTime, Utc};
use domain::id::PartId;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use rust_decimal::Decimal;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_json};
use crate::page::list;
use crate::search::{beginning, containing};
use crate::{Creation, Database, Page, PageRequest, Position, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewPart {
    pub id: PartId,
    pub number: Name,
    pub title: Name,
    pub unit_price: Decimal,
    pub currency: String,
    pub fits: Vec<Fit>,
}

/// A place where a part fits.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, serde::Deserialize)]
pub struct Fit {
    pub model_key: Key,
    pub position: Key,
}

#[derive(Debug, Clone)]
pub struct Part {
    pub id: PartId,
    pub number: Name,
    pub title: Name,
    pub unit_price: Decimal,
    pub currency: String,
    pub fits: Vec<Fit>,
    pub version: i64,
    pub created_at: Timestamp,
}

struct Row {
    id: Uuid,
    number: String,
    title: String,
    unit_price: Decimal,
    currency: String,
    fits: serde_json::Value,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Part {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "part", "id", id)?,
            number: stored(row.number, "part", "number", id)?,
            title: stored(row.title, "part", "title", id)?,
            unit_price: row.unit_price,
            currency: row.currency,
            fits: stored_json(row.fits, "part_fit", "position", id)?,
            version: row.version,
            created_at: stored(row.created_at, "part", "created_at", id)?,
        })
    }
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewPart, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let creation = create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM part WHERE id = $1",
        sqlx::query!(
            "INSERT INTO part (id, number, title, unit_price, currency, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.number.as_str(),
            new.title.as_str(),
            new.unit_price,
            new.currency,
            hash,
            now,
        )
    );
    if creation == Creation::Created {
        write_fits(unit, new.id, &new.fits).await?;
    }
    Ok(creation)
}

/// Writes all fields if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, part: &Part, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE part SET title = $3, unit_price = $4, currency = $5, version = version + 1
         WHERE id = $1 AND version = $2",
        part.id.uuid(),
        version,
        part.title.as_str(),
        part.unit_price,
        part.currency,
    )
    .execute(unit.connection())
    .await?;
    if updated.rows_affected() != 1 {
        return Ok(false);
    }
    sqlx::query!("DELETE FROM part_fit WHERE part_id = $1", part.id.uuid())
        .execute(unit.connection())
        .await?;
    write_fits(unit, part.id, &part.fits).await?;
    Ok(true)
}

async fn write_fits(unit: &mut UnitOfWork, part: PartId, fits: &[Fit]) -> Result<(), StoreError> {
    let models: Vec<String> = fits.iter().map(|fit| fit.model_key.to_string()).collect();
    let positions: Vec<String> = fits.iter().map(|fit| fit.position.to_string()).collect();
    sqlx::query!(
        "INSERT INTO part_fit (part_id, model_key, position)
         SELECT DISTINCT $1::uuid, model_key, position FROM UNNEST($2::text[], $3::text[]) AS f (model_key, position)",
        part.uuid(),
        &models,
        &positions
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

pub async fn get(unit: &mut UnitOfWork, id: PartId) -> Result<Option<Part>, StoreError> {
    one(unit.connection(), id).await
}

pub async fn find(database: &Database, id: PartId) -> Result<Option<Part>, StoreError> {
    one(&mut *database.pool().acquire().await?, id).await
}

async fn one(connection: &mut sqlx::PgConnection, id: PartId) -> Result<Option<Part>, StoreError> {
    sqlx::query_as!(
        Row,
        r#"SELECT id, number, title, unit_price, currency, version, created_at,
               coalesce((SELECT jsonb_agg(jsonb_build_object('model_key', model_key, 'position', position)
                   ORDER BY model_key, position) FROM part_fit WHERE part_id = part.id), '[]') AS "fits!"
           FROM part WHERE id = $1"#,
        id.uuid()
    )
    .fetch_optional(connection)
    .await?
    .map(Part::try_from)
    .readable()
}

/// Parts whose number begins with `search` or whose title contains it, and that fit a place if one is given.
pub async fn list(
    database: &Database,
    search: Option<&str>,
    model_key: Option<&Key>,
    position: Option<&Key>,
    request: &PageRequest,
) -> Result<Page<Part>, StoreError> {
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        r#"SELECT id, number, title, unit_price, currency, version, created_at,
               coalesce((SELECT jsonb_agg(jsonb_build_object('model_key', model_key, 'position', position)
                   ORDER BY model_key, position) FROM part_fit WHERE part_id = part.id), '[]') AS "fits!"
           FROM part
           WHERE ($1::text IS NULL OR lower(number) LIKE lower($4) OR lower(title) LIKE lower($1))
               AND (($2::text IS NULL AND $3::text IS NULL) OR EXISTS (SELECT FROM part_fit WHERE part_id = part.id
                   AND ($2 IS NULL OR model_key = $2) AND ($3 IS NULL OR position = $3)))"#,
        ["$5", "$6", "$7"],
        search.map(containing),
        model_key.map(Key::as_str),
        position.map(Key::as_str),
        search.map(beginning),
    );
    let items = rows.into_iter().map(Part::try_from);
    Ok(request
        .page(items, |part: &Part| Position { created_at: part.created_at.instant(), id: part.id.uuid() }))
}

/// A part by the place where it fits.
#[derive(Debug, Clone)]
pub struct FittingPart {
    pub position: Key,
    pub id: PartId,
    pub number: Name,
    pub title: Name,
    pub unit_price: Decimal,
    pub currency: String,
}

/// The parts that fit a model anywhere, by position and number.
pub async fn fitting(database: &Database, model: &str) -> Result<Vec<FittingPart>, StoreError> {
    let rows = sqlx::query!(
        "SELECT f.position, p.id, p.number, p.title, p.unit_price, p.currency
         FROM part_fit f JOIN part p ON p.id = f.part_id WHERE f.model_key = $1 ORDER BY f.position, p.number",
        model
    )
    .fetch_all(database.pool())
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(FittingPart {
                position: stored(row.position, "part_fit", "position", row.id)?,
                id: stored(row.id, "part", "id", row.id)?,
                number: stored(row.number, "part", "number", row.id)?,
                title: stored(row.title, "part", "title", row.id)?,
                unit_price: row.unit_price,
                currency: row.currency,
            })
        })
        .collect()
}
