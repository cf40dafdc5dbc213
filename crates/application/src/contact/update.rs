use domain::id::ContactId;
use domain::text::Name;
use store::contact::{self, Contact};
use store::{Change, UnitOfWork};

use crate::{Caller, Refusal, UseCase};

/// Changes a contact's name or phone.
pub struct UpdateContact {
    pub id: ContactId,
    pub expected_version: i64,
    pub name: Option<Name>,
    pub phone: Option<Option<Name>>,
}

impl UseCase for UpdateContact {
    const NAME: &'static str = "update_contact";
    type Outcome = Contact;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Contact, Refusal> {
        let missing = Refusal::NotFound { what: "contact" };
        let mut contact = contact::get(unit, self.id).await?.ok_or(missing)?;
        if contact.erased_at.is_some() {
            let detail = "the contact was erased; note the person anew".to_owned();
            return Err(Refusal::Conflict { detail });
        }
        let mut changed = Vec::new();
        if let Some(name) = self.name {
            contact.name = Some(name);
            changed.push("name");
        }
        if let Some(phone) = self.phone {
            contact.phone = phone;
            changed.push("phone");
        }
        if !contact::update(unit, &contact, self.expected_version).await? {
            return Err(Refusal::Stale { what: "contact", current: contact.version });
        }
        let change = Change::of("contact.changed", self.id).fields(changed);
        unit.record(match contact.site {
            Some(site) => change.at_site(site),
            None => change,
        });
        contact.version = self.expected_version + 1;
        Ok(contact)
    }
}
