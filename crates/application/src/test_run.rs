//! What phones send.

mod check;
mod read;
mod record;

pub use read::{GetTestRun, ListTestRuns};
pub use record::{RecordTestRuns, Recorded};
pub use store::test_run::StoredRun;
