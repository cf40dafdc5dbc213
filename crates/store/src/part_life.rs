//! The parts that were fitted, with what is known of how long each lived.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{ApplianceId, PartId, SiteId};
use domain::reliability::lives::FittedPart;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use uuid::Uuid;

use crate::error::{Readable, stored, stored_option};
use crate::{Database, StoreError};

/// Which parts: of a number, of a position, or both; of one model of machine, or of all.
#[derive(Debug, Clone)]
pub struct WhichParts {
    pub part: Option<PartId>,
    pub position: Option<Key>,
    pub model: Option<Key>,
    /// Fitted before this.
    pub until: Timestamp,
}

/// A part in its place, past or present.
#[derive(Debug, Clone)]
pub struct PartInPlace {
    pub appliance: ApplianceId,
    pub part: PartId,
    pub position: Key,
    pub model: Key,
    pub site: SiteId,
    pub fitted: FittedPart,
    /// Nothing is noted of what stood in its place before.
    pub is_first_noted: bool,
    pub installed_on: Option<NaiveDate>,
}

/// More lives than this are not asked for at once: a narrower question says more.
pub const MOST_LIVES: u32 = 60_000;

struct Row {
    id: Uuid,
    appliance_id: Uuid,
    part_id: Uuid,
    position: String,
    model_key: String,
    site_id: Uuid,
    installed_on: Option<NaiveDate>,
    fitted_at: DateTime<Utc>,
    removed_at: Option<DateTime<Utc>>,
    recorded_from: DateTime<Utc>,
    observed_until: Option<DateTime<Utc>>,
    failure_confirmed: bool,
    is_first_noted: bool,
}

impl TryFrom<Row> for PartInPlace {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            appliance: stored(row.appliance_id, "fitted_part", "appliance_id", id)?,
            part: stored(row.part_id, "fitted_part", "part_id", id)?,
            position: stored(row.position, "fitted_part", "position", id)?,
            model: stored(row.model_key, "appliance", "model_key", id)?,
            site: stored(row.site_id, "appliance", "site_id", id)?,
            fitted: FittedPart {
                fitted_at: Some(stored(row.fitted_at, "fitted_part", "fitted_at", id)?),
                recorded_from: stored(row.recorded_from, "appliance", "created_at", id)?,
                removed_at: stored_option(row.removed_at, "fitted_part", "removed_at", id)?,
                failure_confirmed: row.failure_confirmed,
                observed_until: stored_option(row.observed_until, "audit", "at", id)?,
            },
            is_first_noted: row.is_first_noted,
            installed_on: row.installed_on,
        })
    }
}

/// The parts of the question, and one more than [`MOST_LIVES`] if there are more.
///
/// A part failed if a finding of its position says so, made while it was in its place, in an order that was still open when
/// it was taken out: what took it out was the work on that failure. Whole sets are joined: looked up part by part, a fleet's
/// lives would cost seconds.
pub async fn of(database: &Database, which: &WhichParts) -> Result<Vec<PartInPlace>, StoreError> {
    sqlx::query_as!(
        Row,
        r#"WITH first AS (
               SELECT appliance_id, position, min(fitted_at) AS fitted_at FROM fitted_part
               WHERE ($2::text IS NULL OR position = $2)
                   AND ($1::uuid IS NULL OR position IN (SELECT position FROM fitted_part WHERE part_id = $1))
               GROUP BY appliance_id, position),
           failed AS (
               SELECT DISTINCT f.id
               FROM fitted_part f JOIN finding g ON g.appliance_id = f.appliance_id AND g.position = f.position
                       AND g.found_at >= f.fitted_at AND g.found_at <= f.removed_at + interval '1 day'
                   JOIN work_order o ON o.id = g.work_order_id LEFT JOIN finding s ON s.supersedes_id = g.id
               WHERE ($1::uuid IS NULL OR f.part_id = $1) AND ($2::text IS NULL OR f.position = $2)
                   AND ($2::text IS NULL OR g.position = $2) AND f.removed_at IS NOT NULL
                   AND g.finding IN ('degraded', 'failed') AND g.failure_mode IS NOT NULL
                   AND g.retraction_reason IS NULL AND s.id IS NULL
                   AND (o.closed_at IS NULL OR o.closed_at >= f.removed_at)),
           gone AS (
               SELECT a.id, max(audit.at) AS at FROM appliance a JOIN audit ON audit.subject = a.id
               WHERE a.state = 'removed' AND 'state' = ANY (audit.changed_fields) GROUP BY a.id)
           SELECT f.id, f.appliance_id, f.part_id, f.position, a.model_key, a.site_id, a.installed_on, f.fitted_at, f.removed_at,
               a.created_at AS recorded_from, gone.at AS "observed_until?", failed.id IS NOT NULL AS "failure_confirmed!",
               first.appliance_id IS NOT NULL AS "is_first_noted!"
           FROM fitted_part f JOIN appliance a ON a.id = f.appliance_id LEFT JOIN gone ON gone.id = a.id
               LEFT JOIN failed ON failed.id = f.id
               LEFT JOIN first ON first.appliance_id = f.appliance_id AND first.position = f.position
                   AND first.fitted_at = f.fitted_at
           WHERE ($1::uuid IS NULL OR f.part_id = $1) AND ($2::text IS NULL OR f.position = $2)
               AND ($3::text IS NULL OR a.model_key = $3) AND f.fitted_at < $4
           LIMIT $5"#,
        which.part.map(PartId::uuid),
        which.position.as_ref().map(Key::as_str),
        which.model.as_ref().map(Key::as_str),
        which.until.instant(),
        i64::from(MOST_LIVES) + 1
    )
    .fetch_all(database.planned_for_each_use())
    .await?
    .into_iter()
    .map(PartInPlace::try_from)
    .readable()
}

/// How hard, in mmol/L, the water is that reaches the machines of each kitchen, as last read: after the treatment, or where there is none.
pub async fn hardness(database: &Database) -> Result<HashMap<SiteId, f64>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT DISTINCT ON (site_id) site_id, (payload #>> '{sample,hardness_mmol_per_l}')::float8 AS "hardness!"
           FROM site_water
           WHERE payload #>> '{sample,hardness_mmol_per_l}' IS NOT NULL
               AND (payload #>> '{sample,sample_point}' = 'after_treatment' OR payload #>> '{sample,treatment}' = 'none')
           ORDER BY site_id, taken_at DESC, id DESC"#
    )
    .fetch_all(database.pool())
    .await?;
    rows.into_iter()
        .map(|row| {
            let site = stored(row.site_id, "site_water", "site_id", row.site_id)?;
            Ok((site, row.hardness))
        })
        .collect()
}

/// Number and title of each of these parts.
pub async fn names(
    database: &Database,
    parts: &[PartId],
) -> Result<HashMap<PartId, (Name, Name)>, StoreError> {
    let parts: Vec<Uuid> = parts.iter().map(|part| part.uuid()).collect();
    let rows = sqlx::query!("SELECT id, number, title FROM part WHERE id = ANY ($1)", &parts)
        .fetch_all(database.pool())
        .await?;
    rows.into_iter()
        .map(|row| {
            let number = stored(row.number, "part", "number", row.id)?;
            Ok((stored(row.id, "part", "id", row.id)?, (number, stored(row.title, "part", "title", row.id)?)))
        })
        .collect()
}
