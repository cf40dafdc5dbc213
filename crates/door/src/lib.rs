//! What both doors need of HTTP: the interface for programs and the pages for people take the same session, and answer in the same language.

mod cookie;
mod language;
mod same_origin;

pub use cookie::{end_session, session_secret, set_session};
pub use language::{keep_language, keep_measures, language, measures, speak};
pub use same_origin::{comes_from_own_page, may_read_by_cookie};
