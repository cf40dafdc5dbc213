//! Visits.

mod act;
mod create;
mod update;

pub use act::{MoveVisit, VisitMoved};
pub use create::BookVisit;
pub use store::visit::{NewVisit, Visit};
pub use update::UpdateVisit;
