use chrono::NaiveDate;
use domain::equipment;
use domain::id::{ApplianceId, SiteId};
use domain::text::{Key, Name};
use domain::time::Timestamp;
use domain::work::ApplianceState;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::catalogue::FunctionalLimit;
use crate::schema;
use crate::work_orders::Money;

/// One machine in a kitchen.
#[derive(Serialize, ToSchema)]
pub struct Appliance {
    #[schema(value_type = schema::Id)]
    id: ApplianceId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    model: ModelVersion,
    /// Where it stands in the kitchen.
    #[schema(value_type = schema::Name)]
    position_label: Name,
    #[schema(value_type = Option<schema::Name>, required)]
    serial: Option<Name>,
    #[schema(value_type = Option<schema::Day>, required)]
    installed_on: Option<NaiveDate>,
    #[schema(value_type = schema::ApplianceStateWord)]
    state: ApplianceState,
    /// Its own limits, which stand before those of its model.
    #[schema(value_type = Vec<FunctionalLimit>, max_items = 200)]
    limits: Vec<equipment::FunctionalLimit>,
    /// What a new machine in its place would cost; null where nobody has said.
    #[schema(required)]
    replacement_price: Option<Money>,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

/// One version of one model.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ModelVersion {
    #[schema(value_type = schema::Key)]
    pub key: Key,
    #[schema(minimum = 1, maximum = 2_147_483_647)]
    pub version: u32,
}

impl From<application::appliance::Appliance> for Appliance {
    fn from(appliance: application::appliance::Appliance) -> Self {
        Self {
            id: appliance.id,
            version: appliance.version,
            site_id: appliance.site,
            model: ModelVersion { key: appliance.model, version: appliance.model_version },
            position_label: appliance.position_label,
            serial: appliance.serial,
            installed_on: appliance.installed_on,
            state: appliance.state,
            limits: appliance.limits,
            replacement_price: appliance.replacement_price.map(Money::from),
            created_at: appliance.created_at,
        }
    }
}
