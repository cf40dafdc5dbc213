//! Sites: kitchens.

use chrono::{DateTime, Utc};
use domain::id::{BranchId, CustomerId, SiteId};
use domain::standing_facts::StandingFacts;
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use sqlx::PgConnection;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_json, stored_option, to_json};
use crate::page::list;
use crate::search::containing;
use crate::{Creation, Database, Page, PageRequest, Position, ReadScope, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewSite {
    pub id: SiteId,
    pub customer: CustomerId,
    pub branch: Option<BranchId>,
    pub name: Name,
    pub place: Name,
    pub time_zone: Name,
    pub external_id: Option<Name>,
    /// Above the sea, m.
    pub altitude_m: Option<f64>,
}

#[derive(Debug, Clone)]
pub struct Site {
    pub id: SiteId,
    pub customer: CustomerId,
    pub branch: Option<BranchId>,
    pub name: Name,
    pub place: Name,
    /// A name of the IANA time zone database.
    pub time_zone: Name,
    pub external_id: Option<Name>,
    /// Above the sea, m.
    pub altitude_m: Option<f64>,
    /// What holds of it whoever comes.
    pub standing_facts: StandingFacts,
    pub version: i64,
    pub created_at: Timestamp,
}

/// What people call a kitchen.
#[derive(Debug, Clone)]
pub struct SiteNames {
    pub id: SiteId,
    pub name: Name,
    pub customer: Option<Name>,
}

/// The names of those of these kitchens that there are.
pub async fn names(database: &Database, sites: &[SiteId]) -> Result<Vec<SiteNames>, StoreError> {
    let ids: Vec<Uuid> = sites.iter().map(|site| site.uuid()).collect();
    let rows = sqlx::query!(
        r#"SELECT site.id, site.name, customer.name AS "customer?" FROM site JOIN customer ON customer.id = site.customer_id
           WHERE site.id = ANY ($1)"#,
        &ids
    )
    .fetch_all(database.pool())
    .await?;
    let names = rows.into_iter().map(|row| {
        Ok(SiteNames {
            id: stored(row.id, "site", "id", row.id)?,
            name: stored(row.name, "site", "name", row.id)?,
            customer: stored_option(row.customer, "customer", "name", row.id)?,
        })
    });
    names.collect()
}

/// Which sites a list shows.
#[derive(Debug, Clone, Default)]
pub struct SiteFilter {
    /// Part of the name or the place, or the whole external id.
    pub search: Option<String>,
    pub customer: Option<CustomerId>,
    pub branch: Option<BranchId>,
}

struct Row {
    id: Uuid,
    customer_id: Uuid,
    branch_id: Option<Uuid>,
    name: String,
    place: String,
    time_zone: String,
    external_id: Option<String>,
    altitude_m: Option<f64>,
    standing_facts: serde_json::Value,
    version: i64,
    created_at: DateTime<Utc>,
}

impl TryFrom<Row> for Site {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(row.id, "site", "id", id)?,
            customer: stored(row.customer_id, "site", "customer_id", id)?,
            branch: stored_option(row.branch_id, "site", "branch_id", id)?,
            name: stored(row.name, "site", "name", id)?,
            place: stored(row.place, "site", "place", id)?,
            time_zone: stored(row.time_zone, "site", "time_zone", id)?,
            external_id: stored_option(row.external_id, "site", "external_id", id)?,
            altitude_m: row.altitude_m,
            standing_facts: stored_json(row.standing_facts, "site", "standing_facts", id)?,
            version: row.version,
            created_at: stored(row.created_at, "site", "created_at", id)?,
        })
    }
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewSite, hash: &[u8]) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM site WHERE id = $1",
        sqlx::query!(
            "INSERT INTO site (id, customer_id, branch_id, name, place, time_zone, external_id, altitude_m, body_sha256,
                 created_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.customer.uuid(),
            new.branch.map(BranchId::uuid),
            new.name.as_str(),
            new.place.as_str(),
            new.time_zone.as_str(),
            new.external_id.as_ref().map(Name::as_str),
            new.altitude_m,
            hash,
            now,
        )
    ))
}

/// Writes all fields if the version is still `version`; returns whether it was.
pub async fn update(unit: &mut UnitOfWork, site: &Site, version: i64) -> Result<bool, StoreError> {
    let updated = sqlx::query!(
        "UPDATE site SET branch_id = $3, name = $4, place = $5, time_zone = $6, external_id = $7,
             altitude_m = $8, version = version + 1
         WHERE id = $1 AND version = $2",
        site.id.uuid(),
        version,
        site.branch.map(BranchId::uuid),
        site.name.as_str(),
        site.place.as_str(),
        site.time_zone.as_str(),
        site.external_id.as_ref().map(Name::as_str),
        site.altitude_m,
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// Writes the facts that hold of it if the version is still `version`; returns whether it was.
pub async fn update_standing_facts(
    unit: &mut UnitOfWork,
    site: &Site,
    version: i64,
) -> Result<bool, StoreError> {
    let facts = to_json(&site.standing_facts, "site", "standing_facts", site.id)?;
    let updated = sqlx::query!(
        "UPDATE site SET standing_facts = $3, version = version + 1 WHERE id = $1 AND version = $2",
        site.id.uuid(),
        version,
        facts
    )
    .execute(unit.connection())
    .await?;
    Ok(updated.rows_affected() == 1)
}

/// The site as it stands in this unit of work.
pub async fn get(unit: &mut UnitOfWork, id: SiteId) -> Result<Option<Site>, StoreError> {
    get_within(unit, &ReadScope::everything(), id).await
}

/// The site as it stands in this unit of work, if the scope shows it.
pub async fn get_within(
    unit: &mut UnitOfWork,
    scope: &ReadScope,
    id: SiteId,
) -> Result<Option<Site>, StoreError> {
    load(unit.connection(), scope, id).await
}

/// The site, if the scope shows it.
pub async fn find(database: &Database, scope: &ReadScope, id: SiteId) -> Result<Option<Site>, StoreError> {
    load(&mut *database.pool().acquire().await?, scope, id).await
}

async fn load(
    connection: &mut PgConnection,
    scope: &ReadScope,
    id: SiteId,
) -> Result<Option<Site>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, customer_id, branch_id, name, place, time_zone, external_id, altitude_m, standing_facts, version,
             created_at
         FROM site
         WHERE id = $1 AND ($2::uuid IS NULL OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.site_id = site.id))",
        id.uuid(),
        scope.person()
    )
    .fetch_optional(connection)
    .await?
    .map(Site::try_from)
    .readable()
}

pub async fn list(
    database: &Database,
    scope: &ReadScope,
    filter: &SiteFilter,
    request: &PageRequest,
) -> Result<Page<Site>, StoreError> {
    let rows = list!(
        Row,
        request,
        database.planned_for_each_use(),
        "SELECT id, customer_id, branch_id, name, place, time_zone, external_id, altitude_m, standing_facts, version,
             created_at
         FROM site
         WHERE ($1::text IS NULL OR lower(name) LIKE lower($1) OR lower(place) LIKE lower($1) OR external_id = $5)
             AND ($2::uuid IS NULL OR customer_id = $2) AND ($3::uuid IS NULL OR branch_id = $3)
             AND ($4::uuid IS NULL OR id = ANY (ARRAY(SELECT site_id FROM assignment WHERE person_id = $4)))",
        ["$6", "$7", "$8"],
        filter.search.as_deref().map(containing),
        filter.customer.map(CustomerId::uuid),
        filter.branch.map(BranchId::uuid),
        scope.person(),
        filter.search.as_deref(),
    );
    let items = rows.into_iter().map(Site::try_from);
    Ok(request
        .page(items, |site: &Site| Position { created_at: site.created_at.instant(), id: site.id.uuid() }))
}
