//! People of the service company.

mod create;
mod read;
mod update;

pub use create::CreatePerson;
pub use read::{GetMe, GetPerson, ListPeople};
pub use store::person::{NewPerson, Person};
pub use update::UpdatePerson;
