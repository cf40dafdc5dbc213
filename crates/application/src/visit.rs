//! Visits.

mod act;
mod create;
mod update;

pub use act::{MoveVisit, VisitMoved};
pub use create::BookVisit;
pub use update::UpdateVisit;
