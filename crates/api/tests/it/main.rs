//! The interface in one process: the real router over a real database of each test's own.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may panic")]

mod basics;
mod company;
mod coverage;
mod document;
mod events;
mod feed;
mod hang_up;
mod healing;
mod known_good;
mod limits;
mod logs;
mod mend;
mod places;
mod readiness;
mod reports;
mod rollback;
mod secrets;
mod service;
mod sign_in;
mod statements;
mod work;
