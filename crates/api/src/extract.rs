//! What a handler takes out of a request. Every fault becomes a problem that lists all of them.

mod batch;
mod body;
pub mod list;
mod path;
mod precondition;
mod query;

pub use batch::Batch;
pub use body::{Json, present, whole};
pub(crate) use list::list_query;
pub use list::{Listing, SortOrder};
pub use path::Path;
pub use precondition::{IdempotencyKey, IfMatch, tag_matches};
pub use query::{Query, check_query};
