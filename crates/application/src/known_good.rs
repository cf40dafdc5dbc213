//! Which readings show a healthy machine.

pub mod evidence;
mod read;
mod remove;

pub use read::{GetKnownGoodRemoval, KnownGood, ListKnownGood, ListKnownGoodRemovals};
pub use remove::RemoveFromKnownGood;
pub use store::known_good_removal::{NewRemoval, Removal};
