//! Visits.

mod act;
mod create;
mod read;
mod update;

pub use act::{MoveVisit, VisitMoved};
pub use create::BookVisit;
pub use read::{GetVisit, ListVisits};
pub use store::visit::{NewVisit, Visit};
pub use update::UpdateVisit;
