//! The pages in one process: the real router over a real database of each test's own.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may panic")]

mod access;
mod call;
mod catalogue;
mod day;
mod house;
mod language;
mod machine;
mod numbers;
mod office;
mod operations;
mod order;
mod order_forms;
mod pairing;
mod today;
mod words;
