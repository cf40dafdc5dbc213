//! Parts.

mod create;
mod update;

pub use create::CreatePart;
pub use update::UpdatePart;
