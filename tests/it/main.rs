//! Acceptance: the real binary on a database of its own, spoken to by a real HTTP client.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may panic")]
#![allow(
    clippy::disallowed_methods,
    reason = "databases and ids of tests that run beside each other must differ"
)]
#![allow(clippy::needless_pass_by_value, reason = "bodies are written where they are sent")]

mod backup;
mod batches;
mod connections;
mod crash;
mod diagnosis;
mod image;
mod knock;
mod server;
mod story;
mod tour;
mod traces;
