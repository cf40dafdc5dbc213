use store::customer::{self, Customer, NewCustomer};
use store::{Change, UnitOfWork};

use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes a customer in.
pub struct CreateCustomer(pub NewCustomer);

impl UseCase for CreateCustomer {
    const NAME: &'static str = "create_customer";
    type Outcome = Created<Customer>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let creation = customer::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "customer")?;
        if is_new {
            unit.record(Change::of("customer.created", new.id));
        }
        let item = written(customer::get(unit, new.id).await?, "customer")?;
        Ok(Created { item, is_new })
    }
}
