use domain::id::CustomerId;
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// A company or institution that runs kitchens.
#[derive(Serialize, ToSchema)]
pub struct Customer {
    #[schema(value_type = schema::Id)]
    id: CustomerId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Name)]
    name: Name,
    /// What other programs call it.
    #[schema(value_type = Option<schema::Name>, required)]
    external_id: Option<Name>,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::customer::Customer> for Customer {
    fn from(customer: application::customer::Customer) -> Self {
        Self {
            id: customer.id,
            version: customer.version,
            name: customer.name,
            external_id: customer.external_id,
            created_at: customer.created_at,
        }
    }
}
