//! Customers.

mod create;
mod read;
mod update;

pub use create::CreateCustomer;
pub use read::{GetCustomer, ListCustomers};
pub use store::customer::{Customer, NewCustomer};
pub use update::UpdateCustomer;
