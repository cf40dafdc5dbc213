//! Work orders: from the call to the closed order.

mod act;
mod correct_machine;
mod create;
mod freeze;
mod hold;
mod moves;
mod proof;
mod read;
mod update;

pub use act::{MoveSaying, MoveWorkOrder};
pub use correct_machine::CorrectMachine;
pub use create::CreateWorkOrder;
pub(crate) use create::{faults_of as order_faults, insert_new};
pub(crate) use hold::{Held, hold, hold_at, is_not_ahead, no_more_on_it, not_in_future, require};
pub use moves::{ListMoves, Moves, OutcomeNow, PossibleMove};
pub(crate) use proof::recheck as recheck_proof;
pub(crate) use read::require_shown;
pub use read::{GetWorkOrder, ListWorkOrders};
pub use store::machine_correction::{MachineCorrection, NewMachineCorrection};
pub use store::work_order::{Filter, Money, NewWorkOrder, WorkOrder};
pub use update::UpdateWorkOrder;
pub(crate) use update::{set_appliance_state, stop_machine};
