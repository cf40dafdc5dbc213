//! Appliances: machines in kitchens.

use chrono::{DateTime, NaiveDate, Utc};
use domain::equipment::FunctionalLimit;
use domain::id::{ApplianceId, SiteId};
use domain::text::{Key, Name};
use domain::time::Timestamp;
use domain::work::ApplianceState;
use rust_decimal::Decimal;
use serde::Serialize;
use sqlx::PgConnection;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_json, stored_option, to_json};
use crate::page::list;
use crate::search::containing;
use crate::work_order::Money;
use crate::{Creation, Database, Page, PageRequest, Position, ReadScope, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewAppliance {
    pub id: ApplianceId,
    pub site: SiteId,
    pub model: Key,
    /// The newest where it is not given.
    pub model_version: Option<u32>,
    /// Where it stands in the kitchen.
    pub position_label: Name,
    pub serial: Option<Name>,
    pub installed_on: Option<NaiveDate>,
    pub state: ApplianceState,
    pub limits: Vec<FunctionalLimit>,
}

#[derive(Debug, Clone)]
pub struct Appliance {
    pub id: ApplianceId,
    pub site: SiteId,
    pub model: Key,
    pub model_version: u32,
    pub position_label: Name,
    pub serial: Option<Name>,
    pub installed_on: Option<NaiveDate>,
    pub state: ApplianceState,
    /// Its own limits, which stand before those of its model.
    pub limits: Vec<FunctionalLimit>,
    /// What a new machine in its place would cost, if somebody said.
    pub replacement_price: Option<Money>,
    pub version: i64,
    pub created_at: Timestamp,
}

/// Which appliances a list shows.
#[derive(Debug, Clone, Default)]
pub struct ApplianceFilter {
    /// Part of the serial number or of the label.
    pub search: Option<String>,
    pub site: Option<SiteId>,
    pub model: Option<Key>,
    pub state: Option<ApplianceState>,
}

struct Row {
    id: Uuid,
    site_id: Uuid,
    model_key: String,
    model_version: i32,
    position_label: String,
    serial: Option<String>,
    installed_on: Option<NaiveDate>,
    state: String,
    limits: serde_json::Value,
    replacement_price: Option<Decimal>,
    replacement_currency: Option<String>,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Appliance {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(row.id, "appliance", "id", id)?,
            site: stored(row.site_id, "appliance", "site_id", id)?,
            model: stored(row.model_key, "appliance", "model_key", id)?,
            model_version: row.model_version.cast_unsigned(),
            position_label: stored(row.position_label, "appliance", "position_label", id)?,
            serial: stored_option(row.serial, "appliance", "serial", id)?,
            installed_on: row.installed_on,
            state: stored(row.state, "appliance", "state", id)?,
            limits: stored_json(row.limits, "appliance", "limits", id)?,
            replacement_price: match (row.replacement_price, row.replacement_currency) {
                (Some(amount), Some(currency)) => Some(Money {
                    amount: stored(amount, "appliance", "replacement_price", id)?,
                    currency: stored(currency, "appliance", "replacement_currency", id)?,
                }),
                _ => None,
            },
            version: row.version,
            created_at: stored(row.created_at, "appliance", "created_at", id)?,
        })
    }
}

fn limits_as_json(id: ApplianceId, limits: &[FunctionalLimit]) -> Result<serde_json::Value, StoreError> {
    to_json(&limits, "appliance", "limits", id)
}

/// Keeps a new appliance with its model in the version given, or the newest.
pub async fn insert(unit: &mut UnitOfWork, new: &NewAppliance, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM appliance WHERE id = $1",
        sqlx::query!(
            "INSERT INTO appliance (id, site_id, model_key, model_version, position_label, serial, installed_on,
                 state, limits, body_sha256, created_at)
             VALUES ($1, $2, $3, coalesce($4, (SELECT max(version) FROM model WHERE key = $3), 1),
                 $5, $6, $7, $8, $9, $10, $11)
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.site.uuid(),
            new.model.as_str(),
            new.model_version.map(u32::cast_signed),
            new.position_label.as_str(),
            new.serial.as_ref().map(Name::as_str),
            new.installed_on,
            new.state.word(),
            limits_as_json(new.id, &new.limits)?,
            hash,
            now,
        )
    ))
}

/// Writes all fields if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, appliance: &Appliance, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE appliance SET site_id = $3, model_key = $4, model_version = $5, position_label = $6, serial = $7,
             installed_on = $8, state = $9, limits = $10, replacement_price = $11, replacement_currency = $12,
             version = version + 1
         WHERE id = $1 AND version = $2",
        appliance.id.uuid(),
        version,
        appliance.site.uuid(),
        appliance.model.as_str(),
        appliance.model_version.cast_signed(),
        appliance.position_label.as_str(),
        appliance.serial.as_ref().map(Name::as_str),
        appliance.installed_on,
        appliance.state.word(),
        limits_as_json(appliance.id, &appliance.limits)?,
        appliance.replacement_price.map(|price| price.amount.decimal()),
        appliance.replacement_price.map(|price| price.currency.to_string()),
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// The appliance as it stands in this unit of work, if the scope shows it.
pub async fn get(
    unit: &mut UnitOfWork,
    scope: &ReadScope,
    id: ApplianceId,
) -> Result<Option<Appliance>, StoreError> {
    load(unit.connection(), scope, id).await
}

/// The appliance, if the scope shows it.
pub async fn find(
    database: &Database,
    scope: &ReadScope,
    id: ApplianceId,
) -> Result<Option<Appliance>, StoreError> {
    load(&mut *database.pool().acquire().await?, scope, id).await
}

/// Scoped readers see the machines of their orders and all that stand in the same kitchens: which of
/// them is meant is often settled there.
async fn load(
    connection: &mut PgConnection,
    scope: &ReadScope,
    id: ApplianceId,
) -> Result<Option<Appliance>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, site_id, model_key, model_version, position_label, serial, installed_on, state, limits,
             replacement_price, replacement_currency, version, created_at
         FROM appliance WHERE id = $1 AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2
                 AND (assignment.appliance_id = $1 OR assignment.site_id = appliance.site_id)))",
        id.uuid(),
        scope.person()
    )
    .fetch_optional(connection)
    .await?
    .map(Appliance::try_from)
    .readable()
}

pub async fn list(
    database: &Database,
    scope: &ReadScope,
    filter: &ApplianceFilter,
    request: &PageRequest,
) -> Result<Page<Appliance>, StoreError> {
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        "SELECT id, site_id, model_key, model_version, position_label, serial, installed_on, state, limits,
             replacement_price, replacement_currency, version, created_at
         FROM appliance
         WHERE ($1::text IS NULL OR lower(serial) LIKE lower($1) OR lower(position_label) LIKE lower($1))
             AND ($2::uuid IS NULL OR site_id = $2) AND ($3::text IS NULL OR model_key = $3)
             AND ($4::text IS NULL OR state = $4)
             AND ($5::uuid IS NULL OR id = ANY (ARRAY(SELECT appliance_id FROM assignment WHERE person_id = $5))
                 OR site_id = ANY (ARRAY(SELECT site_id FROM assignment WHERE person_id = $5)))",
        ["$6", "$7", "$8"],
        filter.search.as_deref().map(containing),
        filter.site.map(SiteId::uuid),
        filter.model.as_ref().map(Key::as_str),
        filter.state.map(ApplianceState::word),
        scope.person(),
    );
    let items = rows.into_iter().map(Appliance::try_from);
    Ok(request.page(items, |appliance: &Appliance| Position {
        created_at: appliance.created_at.instant(),
        id: appliance.id.uuid(),
    }))
}

/// The versions of models that stand in kitchens, those with most machines first.
pub async fn models_in_use(database: &Database, most: i64) -> Result<Vec<(Key, u32)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT model_key, model_version, (array_agg(id))[1] AS "one_of_them!" FROM appliance
           WHERE state <> 'removed'
           GROUP BY model_key, model_version ORDER BY count(*) DESC, model_key, model_version LIMIT $1"#,
        most
    );
    rows.fetch_all(database.pool())
        .await?
        .into_iter()
        .map(|row| {
            let key = stored(row.model_key, "appliance", "model_key", row.one_of_them)?;
            Ok((key, row.model_version.cast_unsigned()))
        })
        .collect()
}

/// The models that stand in a kitchen, each version once.
pub async fn models_at(database: &Database, site: SiteId) -> Result<Vec<(Key, u32)>, StoreError> {
    let rows = sqlx::query!(
        "SELECT DISTINCT model_key, model_version FROM appliance
         WHERE site_id = $1 AND state <> 'removed' ORDER BY model_key, model_version",
        site.uuid()
    )
    .fetch_all(database.pool())
    .await?;
    rows.into_iter()
        .map(|row| {
            let key = stored(row.model_key, "appliance", "model_key", site.uuid())?;
            Ok((key, row.model_version.cast_unsigned()))
        })
        .collect()
}
