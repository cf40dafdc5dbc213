//! What an order waits for.

mod begin;
mod end;

pub use begin::BeginWaiting;
pub use end::EndWaiting;
pub use store::waiting::{NewWaiting, Waiting};
