//! The HTTP JSON interface: the only crate that knows its shapes and its OpenAPI document.

pub mod answer;
mod appliances;
mod branches;
mod calls;
mod catalogue;
mod changes;
mod contacts;
pub mod contract;
pub mod cursor;
mod customers;
pub mod document;
mod extract;
pub mod figures;
mod finish;
mod guard;
pub mod limits;
mod operations;
mod part_lines;
mod parts;
mod people;
pub mod problem;
mod quotes;
mod reports;
mod schema;
mod search;
pub mod service;
mod sites;
pub mod state;
mod test_runs;
mod tokens;
mod visits;
mod waiting;
mod work_orders;

pub use service::router;
pub use state::{ApiState, Settings};
pub use tokens::new_secret;
