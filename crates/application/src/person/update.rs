use domain::id::PersonId;
use domain::role::Role;
use domain::text::{Key, Name};
use store::person::{self, Person};
use store::{Change, UnitOfWork};

use crate::{Caller, Refusal, UseCase};

/// Changes some fields of a person; one who left is made inactive, and his tokens with him.
pub struct UpdatePerson {
    pub id: PersonId,
    pub expected_version: i64,
    pub name: Option<Name>,
    pub role: Option<Role>,
    pub skills: Option<Vec<Key>>,
    pub active: Option<bool>,
}

impl UseCase for UpdatePerson {
    const NAME: &'static str = "update_person";
    type Outcome = Person;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Person, Refusal> {
        let missing = Refusal::NotFound { what: "person" };
        let mut person = person::get(unit, self.id).await?.ok_or(missing)?;
        let mut changed = Vec::new();
        if let Some(name) = self.name {
            person.name = name;
            changed.push("name");
        }
        if let Some(role) = self.role {
            person.role = role;
            changed.push("role");
        }
        if let Some(skills) = self.skills {
            person.skills = skills;
            changed.push("skills");
        }
        if let Some(active) = self.active {
            person.active = active;
            changed.push("active");
        }
        if !person::update(unit, &person, self.expected_version).await? {
            return Err(Refusal::Stale { what: "person", current: person.version });
        }
        unit.record(Change::of("person.changed", self.id).fields(changed));
        person.version = self.expected_version + 1;
        Ok(person)
    }
}
