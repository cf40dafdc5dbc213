//! What was done to a machine.

mod create;
mod read;

pub use create::CreateActionTaken;
pub use read::ListActionsTaken;
pub use store::action_taken::{ActionTaken, NewActionTaken};
