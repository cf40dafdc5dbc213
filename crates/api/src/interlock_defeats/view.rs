use application::interlock_defeat::SecondPerson;
use domain::id::{ContactId, InterlockDefeatId, PersonId, WorkOrderId};
use domain::text::Name;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// A defeated interlock.
#[derive(Serialize, ToSchema)]
pub struct InterlockDefeat {
    #[schema(value_type = schema::Id)]
    id: InterlockDefeatId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::Id)]
    opened_by: PersonId,
    /// Who stood by, if it was one of ours.
    #[schema(value_type = Option<schema::Id>, required)]
    second_person_id: Option<PersonId>,
    #[schema(value_type = Option<schema::Id>, required)]
    second_contact_id: Option<ContactId>,
    #[schema(value_type = Option<schema::Name>, required)]
    second_person: Option<Name>,
    #[schema(value_type = schema::Instant)]
    opened_at: Timestamp,
    /// It stays open past this until its removal is recorded, and its order cannot end.
    #[schema(value_type = schema::Instant)]
    expires_at: Timestamp,
    #[schema(value_type = Option<schema::Instant>, required)]
    removed_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Id>, required)]
    removed_by: Option<PersonId>,
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::interlock_defeat::InterlockDefeat> for InterlockDefeat {
    fn from(defeat: application::interlock_defeat::InterlockDefeat) -> Self {
        let (second_person_id, second_contact_id, second_person) = match defeat.second {
            SecondPerson::Colleague(id) => (Some(id), None, None),
            SecondPerson::Contact(id) => (None, Some(id), None),
            SecondPerson::OfKitchen(name) => (None, None, Some(name)),
        };
        Self {
            id: defeat.id,
            work_order_id: defeat.work_order,
            opened_by: defeat.opened_by,
            second_person_id,
            second_contact_id,
            second_person,
            opened_at: defeat.opened_at,
            expires_at: defeat.expires_at,
            removed_at: defeat.removed_at,
            removed_by: defeat.removed_by,
            version: defeat.version,
            created_at: defeat.created_at,
        }
    }
}
