//! Findings: what a person confirmed of a position.

mod create;

pub use create::CreateFinding;
