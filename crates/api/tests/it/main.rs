//! The interface in one process: the real router over a real database of each test's own.

mod basics;
mod coverage;
mod document;
mod feed;
mod limits;
mod logs;
mod service;
