use domain::id::CustomerId;
use domain::text::Name;
use store::customer::{self, Customer};
use store::{Change, UnitOfWork};

use crate::{Caller, Refusal, UseCase};

/// Changes some fields of a customer. An absent field stays; `Some(None)` empties it.
pub struct UpdateCustomer {
    pub id: CustomerId,
    pub expected_version: i64,
    pub name: Option<Name>,
    pub external_id: Option<Option<Name>>,
}

impl UseCase for UpdateCustomer {
    const NAME: &'static str = "update_customer";
    type Outcome = Customer;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Customer, Refusal> {
        let missing = Refusal::NotFound { what: "customer" };
        let mut customer = customer::get(unit, self.id).await?.ok_or(missing)?;
        let mut changed = Vec::new();
        if let Some(name) = self.name {
            customer.name = name;
            changed.push("name");
        }
        if let Some(external_id) = self.external_id {
            customer.external_id = external_id;
            changed.push("external_id");
        }
        if !customer::update(unit, &customer, self.expected_version).await? {
            return Err(Refusal::Stale { what: "customer", current: customer.version });
        }
        unit.record(Change::of("customer.changed", self.id).fields(changed));
        customer.version = self.expected_version + 1;
        Ok(customer)
    }
}
