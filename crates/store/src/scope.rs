//! Whose eyes a read is for.

use domain::id::PersonId;
use uuid::Uuid;

/// What a reader may see: everything, or only what belongs to the orders that he is sent to.
#[derive(Debug, Clone, Copy)]
pub struct ReadScope {
    only_of: Option<PersonId>,
}

impl ReadScope {
    pub fn everything() -> Self {
        Self { only_of: None }
    }

    /// Orders with a visit of this person, their sites, and the whole history of their appliances.
    pub fn orders_of(person: PersonId) -> Self {
        Self { only_of: Some(person) }
    }

    /// Whose orders bound what is seen; none if everything is.
    pub fn only_of(&self) -> Option<PersonId> {
        self.only_of
    }

    /// The parameter of the statements' `$n::uuid IS NULL OR …`.
    pub(crate) fn person(&self) -> Option<Uuid> {
        self.only_of.map(PersonId::uuid)
    }
}
