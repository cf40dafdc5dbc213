//! The use cases: who may do what, what it changes, in one transaction. One file each.

pub mod action_taken;
pub mod appliance;
pub mod application;
pub mod branch;
pub mod call;
pub mod caller;
pub mod catalogue;
pub mod contact;
pub mod customer;
pub mod drift;
pub mod finding;
pub mod interlock_defeat;
pub mod knowledge;
pub mod known_good;
pub mod learning;
pub mod part;
pub mod part_line;
pub mod person;
pub mod quote;
pub mod refusal;
pub mod rights;
pub mod site;
pub mod surroundings;
pub mod test_run;
pub mod token;
pub mod use_case;
pub mod verdicts;
pub mod versions;
pub mod visit;
pub mod waiting;
pub mod waiver;
pub mod work_order;

pub use application::Application;
pub use caller::{Caller, Principal};
pub use refusal::{Fault, Refusal};
pub use use_case::{Created, UseCase};
