//! What was done to a machine.

mod create;

pub use create::CreateActionTaken;
