//! The pages in one process: the real router over a real database of each test's own.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may panic")]

mod access;
mod day;
mod house;
mod order;
mod today;
mod words;
