//! Which part is, and was, in which position of a machine.

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, FittedPartId, PartId, SiteId};
use domain::text::{Key, Name};
use domain::time::Timestamp;
use domain::vocabulary::Action;
use serde::Serialize;
use uuid::Uuid;

use crate::error::{Readable, stored, stored_option};
use crate::{Creation, Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewFittedPart {
    pub id: FittedPartId,
    pub appliance: ApplianceId,
    pub position: Key,
    pub part: PartId,
    pub serial: Option<Name>,
    pub fitted_at: Timestamp,
}

#[derive(Debug, Clone)]
pub struct FittedPart {
    pub id: FittedPartId,
    pub position: Key,
    pub part: PartId,
    pub part_number: Name,
    pub part_title: Name,
    /// Whether the catalogue lists the part for this position of the machine's model.
    pub listed: bool,
    pub serial: Option<Name>,
    pub fitted_at: Timestamp,
    /// When another took its place.
    pub removed_at: Option<Timestamp>,
}

/// Notes a part as fitted, between the one that was in the position before and the one that came after,
/// in whatever order they are told.
pub async fn fit(unit: &mut UnitOfWork, new: &NewFittedPart) -> Result<Creation, StoreError> {
    // Two notes about one machine wait for each other here.
    sqlx::query!("SELECT id FROM appliance WHERE id = $1 FOR NO KEY UPDATE", new.appliance.uuid())
        .fetch_optional(unit.connection())
        .await?;
    let serial = new.serial.as_ref().map(Name::as_str);
    let same = sqlx::query_scalar!(
        r#"SELECT appliance_id = $2 AND position = $3 AND part_id = $4 AND serial IS NOT DISTINCT FROM $5
               AND fitted_at = $6 AS "same!"
           FROM fitted_part WHERE id = $1"#,
        new.id.uuid(),
        new.appliance.uuid(),
        new.position.as_str(),
        new.part.uuid(),
        serial,
        new.fitted_at.instant()
    )
    .fetch_optional(unit.connection())
    .await?;
    if let Some(same) = same {
        return Ok(if same { Creation::AlreadyThere } else { Creation::Differs });
    }
    sqlx::query!(
        "UPDATE fitted_part SET removed_at = $3
         WHERE appliance_id = $1 AND position = $2 AND fitted_at <= $3 AND (removed_at IS NULL OR removed_at > $3)",
        new.appliance.uuid(),
        new.position.as_str(),
        new.fitted_at.instant()
    )
    .execute(unit.connection())
    .await?;
    sqlx::query!(
        "INSERT INTO fitted_part (id, appliance_id, position, part_id, serial, fitted_at, removed_at)
         VALUES ($1, $2, $3, $4, $5, $6, least(
             (SELECT min(fitted_at) FROM fitted_part WHERE appliance_id = $2 AND position = $3 AND fitted_at > $6),
             (SELECT min(taken_at) FROM action_taken a JOIN work_order o ON o.id = a.work_order_id
              WHERE o.appliance_id = $2 AND a.position = $3 AND a.action = $7 AND a.taken_at > $6)))",
        new.id.uuid(),
        new.appliance.uuid(),
        new.position.as_str(),
        new.part.uuid(),
        serial,
        new.fitted_at.instant(),
        Action::Removed.key()
    )
    .execute(unit.connection())
    .await?;
    Ok(Creation::Created)
}

/// Notes that whatever part was in a position was taken out, and nothing put in its place.
pub async fn empty(
    unit: &mut UnitOfWork,
    appliance: ApplianceId,
    position: &Key,
    at: Timestamp,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE fitted_part SET removed_at = $3
         WHERE appliance_id = $1 AND position = $2 AND fitted_at <= $3 AND (removed_at IS NULL OR removed_at > $3)",
        appliance.uuid(),
        position.as_str(),
        at.instant()
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Notes that this part was taken out of its position again, and nothing put in its place.
pub async fn take_out(
    unit: &mut UnitOfWork,
    appliance: ApplianceId,
    position: &Key,
    part: PartId,
    at: Timestamp,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE fitted_part SET removed_at = greatest($4, fitted_at)
         WHERE appliance_id = $1 AND position = $2 AND part_id = $3 AND removed_at IS NULL",
        appliance.uuid(),
        position.as_str(),
        part.uuid(),
        at.instant()
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Takes the note of a part back, as if it had never been in this machine: what was in its place before is there again.
/// Returns the note's id and the part's serial, if it stood.
pub async fn withdraw(
    unit: &mut UnitOfWork,
    appliance: ApplianceId,
    position: &Key,
    part: PartId,
    fitted_at: Timestamp,
) -> Result<Option<(FittedPartId, Option<Name>)>, StoreError> {
    let noted = sqlx::query!(
        "DELETE FROM fitted_part WHERE appliance_id = $1 AND position = $2 AND part_id = $3 AND fitted_at = $4
         RETURNING id, serial, removed_at",
        appliance.uuid(),
        position.as_str(),
        part.uuid(),
        fitted_at.instant()
    )
    .fetch_optional(unit.connection())
    .await?;
    let Some(noted) = noted else { return Ok(None) };
    sqlx::query!(
        "UPDATE fitted_part SET removed_at = $4 WHERE appliance_id = $1 AND position = $2 AND removed_at = $3",
        appliance.uuid(),
        position.as_str(),
        fitted_at.instant(),
        noted.removed_at
    )
    .execute(unit.connection())
    .await?;
    let id = stored(noted.id, "fitted_part", "id", noted.id)?;
    Ok(Some((id, stored_option(noted.serial, "fitted_part", "serial", noted.id)?)))
}

struct Row {
    id: Uuid,
    position: String,
    part_id: Uuid,
    part_number: String,
    part_title: String,
    listed: bool,
    serial: Option<String>,
    fitted_at: DateTime<Utc>,
    removed_at: Option<DateTime<Utc>>,
}

impl TryFrom<Row> for FittedPart {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(id, "fitted_part", "id", id)?,
            position: stored(row.position, "fitted_part", "position", id)?,
            part: stored(row.part_id, "fitted_part", "part_id", id)?,
            part_number: stored(row.part_number, "part", "number", id)?,
            part_title: stored(row.part_title, "part", "title", id)?,
            listed: row.listed,
            serial: stored_option(row.serial, "fitted_part", "serial", id)?,
            fitted_at: stored(row.fitted_at, "fitted_part", "fitted_at", id)?,
            removed_at: stored_option(row.removed_at, "fitted_part", "removed_at", id)?,
        })
    }
}

macro_rules! fitted_parts {
    ($condition:literal, $parameter:expr) => {
        sqlx::query_as!(
            Row,
            r#"SELECT f.id, f.position, f.part_id, part.number AS part_number, part.title AS part_title,
                   EXISTS (SELECT FROM part_fit WHERE part_fit.part_id = f.part_id
                       AND part_fit.model_key = appliance.model_key AND part_fit.position = f.position) AS "listed!",
                   f.serial, f.fitted_at, f.removed_at
               FROM fitted_part f JOIN part ON part.id = f.part_id JOIN appliance ON appliance.id = f.appliance_id
               WHERE "# + $condition + " ORDER BY f.position, f.fitted_at DESC, f.id",
            $parameter
        )
    };
}

/// One as it stands in this unit of work.
pub async fn get(unit: &mut UnitOfWork, id: FittedPartId) -> Result<Option<FittedPart>, StoreError> {
    fitted_parts!("f.id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?
        .map(FittedPart::try_from)
        .readable()
}

/// All of a machine, by position, newest first.
pub async fn of_appliance(
    database: &Database,
    appliance: ApplianceId,
) -> Result<Vec<FittedPart>, StoreError> {
    fitted_parts!("f.appliance_id = $1", appliance.uuid())
        .fetch_all(database.pool())
        .await?
        .into_iter()
        .map(FittedPart::try_from)
        .readable()
}

/// The positions of a kitchen's machines in which a part is known, by name.
pub async fn positions_at(database: &Database, site: SiteId) -> Result<Vec<Key>, StoreError> {
    let positions = sqlx::query_scalar!(
        "SELECT DISTINCT f.position FROM fitted_part f JOIN appliance a ON a.id = f.appliance_id
         WHERE a.site_id = $1 AND a.state <> 'removed' AND f.removed_at IS NULL ORDER BY f.position",
        site.uuid()
    )
    .fetch_all(database.pool())
    .await?;
    let key = |position| stored(position, "fitted_part", "position", site.uuid());
    positions.into_iter().map(key).collect()
}
