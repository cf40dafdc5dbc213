//! Quotes, and what the customer says to them.

mod approve;
mod create;

pub use approve::RecordApproval;
pub use create::{CreateQuote, QuoteRequest};
pub use store::quote::{Approval, NewApproval, Quote};
