//! One module per command.

pub mod migrate;
pub mod serve;
pub mod token;
