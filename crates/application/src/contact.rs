//! Contacts.

mod create;
mod erase;
mod read;
mod update;

pub use create::CreateContact;
pub use erase::EraseContact;
pub use read::{GetContact, ListContacts};
pub use store::contact::{Belongs, Contact, NewContact};
pub use update::UpdateContact;
