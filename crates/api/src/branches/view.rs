use domain::id::BranchId;
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// A part of the service company with its own territory.
#[derive(Serialize, ToSchema)]
pub struct Branch {
    #[schema(value_type = schema::Id)]
    id: BranchId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Name)]
    name: Name,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::branch::Branch> for Branch {
    fn from(branch: application::branch::Branch) -> Self {
        Self { id: branch.id, version: branch.version, name: branch.name, created_at: branch.created_at }
    }
}
