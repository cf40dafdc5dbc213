use domain::id::{BranchId, CustomerId, SiteId};
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// One kitchen.
#[derive(Serialize, ToSchema)]
pub struct Site {
    #[schema(value_type = schema::Id)]
    id: SiteId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Id)]
    customer_id: CustomerId,
    #[schema(value_type = Option<schema::Id>, required)]
    branch_id: Option<BranchId>,
    #[schema(value_type = schema::Name)]
    name: Name,
    /// Where it is: as one would tell a technician.
    #[schema(value_type = schema::Name)]
    place: Name,
    /// A name of the IANA time zone database.
    #[schema(value_type = schema::TimeZone)]
    time_zone: Name,
    /// What other programs call it.
    #[schema(value_type = Option<schema::Name>, required)]
    external_id: Option<Name>,
    /// How high it lies above the sea, m.
    #[schema(required, minimum = -500, maximum = 6000)]
    altitude_m: Option<f64>,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::site::Site> for Site {
    fn from(site: application::site::Site) -> Self {
        Self {
            id: site.id,
            version: site.version,
            customer_id: site.customer,
            branch_id: site.branch,
            name: site.name,
            place: site.place,
            time_zone: site.time_zone,
            external_id: site.external_id,
            altitude_m: site.altitude_m,
            created_at: site.created_at,
        }
    }
}
