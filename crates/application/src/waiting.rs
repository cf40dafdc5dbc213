//! What an order waits for.

mod begin;
mod end;

pub use begin::BeginWaiting;
pub use end::EndWaiting;
