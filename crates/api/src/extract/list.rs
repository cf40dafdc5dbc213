use application::{Page, PageRequest, Position};
use serde::{Deserialize, Serialize};

use crate::cursor::CursorKey;
use crate::problem::Problem;

/// By time of creation: newest first (`-created_at`, as a rule) or oldest first.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub enum SortOrder {
    #[default]
    #[serde(rename = "-created_at")]
    NewestFirst,
    #[serde(rename = "created_at")]
    OldestFirst,
}

const LIMIT_USUAL: i64 = 50;
const LIMIT_MAXIMUM: i64 = 200;

/// The query of a list: its filters, and how it is walked.
pub trait Listing: Serialize + Clone {
    fn limit(&self) -> Option<i64>;
    fn cursor(&self) -> Option<&str>;
    fn sort(&self) -> Option<SortOrder>;
    /// The same query without limit and cursor: what a cursor is bound to.
    fn filters(&self) -> Self;

    /// Opens the cursor and clamps the limit.
    fn page_request(&self, key: &CursorKey) -> Result<PageRequest, Problem> {
        let after: Option<Position> =
            self.cursor().map(|cursor| key.open(&self.filters(), "cursor", cursor)).transpose()?;
        Ok(PageRequest {
            after,
            oldest_first: self.sort() == Some(SortOrder::OldestFirst),
            limit: self.limit().unwrap_or(LIMIT_USUAL).clamp(1, LIMIT_MAXIMUM),
        })
    }

    /// The cursor of the page after this one.
    fn cursor_after<T>(&self, key: &CursorKey, page: &Page<T>) -> Result<Option<String>, Problem> {
        page.next.map(|position| key.seal(&self.filters(), &position)).transpose()
    }
}

/// Defines the query of a list: the filters given, and limit, cursor and sort.
macro_rules! list_query {
    ($(#[$doc:meta])* $name:ident { $($(#[$field_meta:meta])* $field:ident: $type:ty),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, serde::Serialize, serde::Deserialize, utoipa::IntoParams)]
        #[into_params(parameter_in = Query)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $($(#[$field_meta])* $field: $type,)*
            /// How many items at most; a larger number is taken as 200. Usual: 50.
            #[param(minimum = 1, maximum = 1000000, nullable = false)]
            limit: Option<i64>,
            /// Where the page begins: `cursor` of the page before.
            #[param(max_length = 1000, nullable = false)]
            cursor: Option<String>,
            /// By time of creation; newest first unless asked for otherwise.
            #[param(inline, nullable = false)]
            sort: Option<crate::extract::SortOrder>,
        }

        impl crate::extract::Listing for $name {
            fn limit(&self) -> Option<i64> {
                self.limit
            }

            fn cursor(&self) -> Option<&str> {
                self.cursor.as_deref()
            }

            fn sort(&self) -> Option<crate::extract::SortOrder> {
                self.sort
            }

            fn filters(&self) -> Self {
                Self { limit: None, cursor: None, ..self.clone() }
            }
        }
    };
}
pub(crate) use list_query;
