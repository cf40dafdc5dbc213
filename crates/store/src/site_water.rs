//! The water of a site: samples, which are kept as they were taken.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use domain::id::{SiteId, SiteWaterId};
use domain::quantity::AsRead;
use domain::site_water::{TakenSample, WaterSample};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_json, to_json};
use crate::{Creation, Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewWaterSample {
    pub id: SiteWaterId,
    pub site: SiteId,
    pub taken_at: Timestamp,
    pub sample: WaterSample,
    /// The values of the sample as they were read, by their names.
    pub as_read: BTreeMap<String, AsRead>,
}

#[derive(Debug, Clone)]
pub struct KeptWaterSample {
    pub id: SiteWaterId,
    pub taken: TakenSample,
    pub as_read: BTreeMap<String, AsRead>,
}

#[derive(Serialize, Deserialize)]
pub(crate) struct Payload {
    pub sample: WaterSample,
    pub as_read: BTreeMap<String, AsRead>,
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewWaterSample,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let payload = Payload { sample: new.sample, as_read: new.as_read.clone() };
    let payload = to_json(&payload, "site_water", "payload", new.id)?;
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM site_water WHERE id = $1",
        sqlx::query!(
            "INSERT INTO site_water (id, site_id, taken_at, payload, body_sha256, created_at)
             VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.site.uuid(),
            new.taken_at.instant(),
            payload,
            hash,
            now,
        )
    ))
}

struct Row {
    id: Uuid,
    taken_at: DateTime<Utc>,
    payload: serde_json::Value,
}

impl TryFrom<Row> for KeptWaterSample {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        let Payload { sample, as_read } = stored_json(row.payload, "site_water", "payload", id)?;
        let taken_at = stored(row.taken_at, "site_water", "taken_at", id)?;
        Ok(Self { id: stored(id, "site_water", "id", id)?, taken: TakenSample { taken_at, sample }, as_read })
    }
}

/// The sample as it stands in this unit of work.
pub async fn get(unit: &mut UnitOfWork, id: SiteWaterId) -> Result<Option<KeptWaterSample>, StoreError> {
    sqlx::query_as!(Row, "SELECT id, taken_at, payload FROM site_water WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?
        .map(KeptWaterSample::try_from)
        .readable()
}

/// As many as a course is looked at in; a kitchen is sampled a few times a year.
const NEWEST: i64 = 1000;

/// The samples of a site, newest first.
pub async fn of_site(database: &Database, site: SiteId) -> Result<Vec<KeptWaterSample>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, taken_at, payload FROM site_water WHERE site_id = $1 ORDER BY taken_at DESC, id DESC LIMIT $2",
        site.uuid(),
        NEWEST
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(KeptWaterSample::try_from)
    .readable()
}
