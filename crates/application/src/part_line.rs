//! Part lines of an order.

mod act;
mod create;
mod fits;
mod read;
mod update;

pub use act::{LineSaying, MovePartLine};
pub use create::CreatePartLine;
pub use read::{GetPartLine, ListPartLines};
pub use store::part_line::{NewPartLine, PartLine};
pub use update::UpdatePartLine;
