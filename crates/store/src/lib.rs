//! Postgres: one module per aggregate, every statement checked when it is compiled. Writes take a
//! [`UnitOfWork`], reads a [`ReadScope`]; both are made by `application` alone.

pub mod action_taken;
pub mod appliance;
pub mod appliance_state;
pub mod branch;
pub mod call;
pub mod catalogue;
pub mod contact;
pub mod creation;
pub mod customer;
pub mod database;
pub mod error;
pub mod fault_count;
pub mod feed;
pub mod finding;
pub mod history;
pub mod idempotency;
pub mod interlock_defeat;
pub mod known_version;
pub mod page;
pub mod part;
pub mod part_line;
pub mod parts_usage;
pub mod person;
pub mod place;
pub mod quote;
pub mod recurring;
pub mod scope;
pub mod search;
pub mod site;
pub mod site_water;
pub mod term;
pub mod test_run;
pub mod time_zone;
pub mod token;
pub mod unit_of_work;
pub mod visit;
pub mod waiting;
pub mod waiver;
pub mod work_order;

pub use creation::Creation;
pub use database::Database;
pub use error::StoreError;
pub use page::{Page, PageRequest, Position};
pub use scope::ReadScope;
pub use unit_of_work::{Change, UnitOfWork};
