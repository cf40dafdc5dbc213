use domain::id::CustomerId;
use store::customer::{self, Customer};
use store::{Page, PageRequest};

use crate::{Application, Caller, Question, Refusal};

/// A customer.
#[derive(Debug, Clone, Copy)]
pub struct GetCustomer(pub CustomerId);

impl Question for GetCustomer {
    const NAME: &'static str = "get_customer";
    type Answer = Customer;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Customer, Refusal> {
        let found = customer::find(application.database(), &caller.read_scope(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "customer" })
    }
}

/// Customers.
#[derive(Debug, Clone)]
pub struct ListCustomers {
    /// Part of the name, or the external id.
    pub search: Option<String>,
    pub page: PageRequest,
}

impl Question for ListCustomers {
    const NAME: &'static str = "list_customers";
    type Answer = Page<Customer>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Page<Customer>, Refusal> {
        Ok(customer::list(application.database(), self.search.as_deref(), &self.page).await?)
    }
}
