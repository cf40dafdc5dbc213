//! Defeated interlocks.

mod open;
mod read;
mod remove;

pub use open::OpenInterlockDefeat;
pub use read::ListInterlockDefeats;
pub use remove::RemoveInterlockDefeat;
pub use store::interlock_defeat::{InterlockDefeat, NewInterlockDefeat, SecondPerson};
