//! Visits.

mod act;
mod create;
mod update;

pub use act::MoveVisit;
pub use create::BookVisit;
pub use update::UpdateVisit;
