//! Test runs and their readings: insert-only, whatever the state of their order.

mod context;
mod insert;
mod load;

pub use context::{
    ApplianceContext, Corrected, OrderContext, appliance, appliances, corrected, interlock_defeats,
    known_hashes, lock_orders, superseders, visible_appliances, visits,
};
pub(crate) use insert::unstorable;
pub use insert::{NewTestRun, bump_evidence, insert_all, insert_each};
pub(crate) use load::{Detail, Payload, walk};
pub use load::{
    OrderEvidence, StoredRun, of_appliance, of_appliance_around, of_appliances_within, of_neighbours,
    of_order, one, order_evidence, order_evidence_within, standing_before, standing_before_within,
};
