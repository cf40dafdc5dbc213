//! Parts.

mod create;
mod fits;
mod update;

pub use create::CreatePart;
pub use update::UpdatePart;
