//! What people tell each other about an order, and when somebody is to be rung back.

mod create;
mod read;

pub use create::CreateNote;
pub use read::ListNotes;
pub use store::note::{NewNote, Note};
