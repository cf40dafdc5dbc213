//! Findings: what a person confirmed of a position.

mod create;
mod read;

pub use create::CreateFinding;
pub use read::ListFindings;
pub use store::finding::{Finding, NewFinding};
