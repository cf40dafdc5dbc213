//! What phones send.

mod check;
mod record;

pub use record::{RecordTestRuns, Recorded};
