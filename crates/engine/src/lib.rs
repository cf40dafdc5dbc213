//! The computation for a phone without signal: `domain`, asked in JSON and answering in JSON.
//!
//! As WebAssembly (`scripts/engine`) it exports three functions beside its memory: [`room`] makes room for a question
//! of so many bytes and says where, the caller writes it there, [`ask`] answers it and says how long the answer is,
//! and [`place`] says where that lies. It imports nothing: no clock, no randomness, no input or output.

mod exports;
mod question;
mod said;

pub use exports::{ask, place, room};
pub use question::{Engine, Question};
