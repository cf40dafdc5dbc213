//! Quotes, and what the customer says to them.

mod approve;
mod create;
mod read;

pub use approve::RecordApproval;
pub use create::{CreateQuote, QuoteRequest};
pub use read::{ListApprovals, ListQuotes};
pub use store::quote::{Approval, NewApproval, Quote};
