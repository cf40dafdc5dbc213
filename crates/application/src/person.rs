//! People of the service company.

mod create;
mod update;

pub use create::CreatePerson;
pub use update::UpdatePerson;
