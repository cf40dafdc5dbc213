//! Defeated interlocks.

mod open;
mod remove;

pub use open::OpenInterlockDefeat;
pub use remove::RemoveInterlockDefeat;
