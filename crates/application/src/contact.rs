//! Contacts.

mod create;
mod erase;
mod update;

pub use create::CreateContact;
pub use erase::EraseContact;
pub use update::UpdateContact;
