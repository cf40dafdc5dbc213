use store::contact::{self, Belongs, Contact, NewContact};
use store::{Change, UnitOfWork};

use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Notes somebody to reach.
pub struct CreateContact(pub NewContact);

impl UseCase for CreateContact {
    const NAME: &'static str = "create_contact";
    type Outcome = Created<Contact>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let creation = contact::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "contact")?;
        if is_new {
            let change = Change::of("contact.created", new.id);
            unit.record(match new.belongs {
                Belongs::ToSite(site) => change.at_site(site),
                Belongs::ToCustomer(_) => change,
            });
        }
        let item = written(contact::get(unit, new.id).await?, "contact")?;
        Ok(Created { item, is_new })
    }
}
