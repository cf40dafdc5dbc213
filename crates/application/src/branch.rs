//! Branches of the service company.

mod create;
mod read;
mod update;

pub use create::CreateBranch;
pub use read::{GetBranch, ListBranches};
pub use store::branch::{Branch, NewBranch};
pub use update::UpdateBranch;
