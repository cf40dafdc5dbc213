//! Bearer tokens: made once, shown once, kept as a hash.

mod create;
mod holder;
mod read;
mod revoke;
mod seal;

pub use create::{CreateToken, NewSecret};
pub use holder::{principal_of, signed_for, still_holds};
pub use read::ListTokens;
pub use revoke::RevokeToken;
pub use seal::{is_sealed, seal};
pub use store::token::Token;
