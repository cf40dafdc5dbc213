use domain::id::PersonId;
use domain::role::Role;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// Somebody of the service company, or a program that acts for it.
#[derive(Serialize, ToSchema)]
pub struct Person {
    #[schema(value_type = schema::Id)]
    id: PersonId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Name)]
    name: Name,
    #[schema(value_type = schema::RoleWord)]
    role: Role,
    /// What they are trained or licensed for.
    #[schema(value_type = Vec<schema::Key>, max_items = 50)]
    skills: Vec<Key>,
    /// False for one who left; their tokens are then refused.
    active: bool,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::person::Person> for Person {
    fn from(person: application::person::Person) -> Self {
        Self {
            id: person.id,
            version: person.version,
            name: person.name,
            role: person.role,
            skills: person.skills,
            active: person.active,
            created_at: person.created_at,
        }
    }
}
