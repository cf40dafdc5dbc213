use domain::id::{ContactId, CustomerId, SiteId};
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// Somebody to reach. Name and phone are null once they were erased.
#[derive(Serialize, ToSchema)]
pub struct Contact {
    #[schema(value_type = schema::Id)]
    id: ContactId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = Option<schema::Id>, required)]
    customer_id: Option<CustomerId>,
    #[schema(value_type = Option<schema::Id>, required)]
    site_id: Option<SiteId>,
    #[schema(value_type = Option<schema::Name>, required)]
    name: Option<Name>,
    #[schema(value_type = Option<schema::Name>, required)]
    phone: Option<Name>,
    #[schema(value_type = Option<schema::Instant>, required)]
    erased_at: Option<Timestamp>,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::contact::Contact> for Contact {
    fn from(contact: application::contact::Contact) -> Self {
        Self {
            id: contact.id,
            version: contact.version,
            customer_id: contact.customer,
            site_id: contact.site,
            name: contact.name,
            phone: contact.phone,
            erased_at: contact.erased_at,
            created_at: contact.created_at,
        }
    }
}
