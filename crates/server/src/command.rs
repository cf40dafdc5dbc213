//! One module per command.

pub mod bench_data;
pub mod check;
pub mod demo;
pub mod migrate;
pub mod serve;
pub mod token;
