//! Which readings show a healthy machine.

pub mod evidence;
mod remove;

pub use remove::RemoveFromKnownGood;
