//! Parts.

mod create;
mod fits;
mod meant;
mod read;
mod update;

pub use create::CreatePart;
pub use meant::that_fit;
pub use read::{GetPart, ListParts};
pub use store::part::{Fit, FittingPart, NewPart, Part};
pub use update::UpdatePart;
