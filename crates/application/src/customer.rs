//! Customers.

mod create;
mod update;

pub use create::CreateCustomer;
pub use update::UpdateCustomer;
