//! Branches of the service company.

mod create;
mod update;

pub use create::CreateBranch;
pub use update::UpdateBranch;
