//! Part lines of an order.

mod act;
mod create;
mod fits;
mod update;

pub use act::{LineSaying, MovePartLine};
pub use create::CreatePartLine;
pub use update::UpdatePartLine;
