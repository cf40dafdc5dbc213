//! Test runs and their readings: insert-only, whatever the state of their order.

mod context;
mod insert;
mod load;

pub use context::{
    ApplianceContext, OrderContext, appliances, interlock_defeats, known_hashes, lock_orders, places,
    superseders, visits,
};
pub use insert::{NewTestRun, bump_evidence, insert_all, insert_each};
pub use load::{
    StoredRun, of_appliance_around, of_order, of_order_within, one, standing_before, standing_before_within,
};
