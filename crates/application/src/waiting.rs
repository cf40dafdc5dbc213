//! What an order waits for.

mod begin;
mod end;
mod read;

pub use begin::BeginWaiting;
pub use end::EndWaiting;
pub use read::ListWaiting;
pub use store::waiting::{NewWaiting, Waiting};
