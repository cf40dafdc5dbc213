use store::person::{self, NewPerson, Person};
use store::{Change, UnitOfWork};

use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes somebody into the company.
pub struct CreatePerson(pub NewPerson);

impl UseCase for CreatePerson {
    const NAME: &'static str = "create_person";
    type Outcome = Created<Person>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let creation = person::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "person")?;
        if is_new {
            unit.record(Change::of("person.created", new.id));
        }
        let item = written(person::get(unit, new.id).await?, "person")?;
        Ok(Created { item, is_new })
    }
}
