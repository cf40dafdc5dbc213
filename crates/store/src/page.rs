//! Pages of a list: rows after a position in a total order.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::error::{StoreError, left_out};

/// Where a page begins: after the row with this creation time and id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Position {
    pub created_at: DateTime<Utc>,
    pub id: Uuid,
}

/// Which rows of a list are wanted, newest first unless `oldest_first`.
#[derive(Debug, Clone, Copy)]
pub struct PageRequest {
    pub after: Option<Position>,
    pub oldest_first: bool,
    pub limit: i64,
}

/// Rows of a list and where the next page begins, if there is one.
#[derive(Debug, Clone)]
pub struct Page<T> {
    pub items: Vec<T>,
    pub next: Option<Position>,
}

impl PageRequest {
    pub(crate) fn after_time(&self) -> Option<DateTime<Utc>> {
        self.after.map(|position| position.created_at)
    }

    pub(crate) fn after_id(&self) -> Option<Uuid> {
        self.after.map(|position| position.id)
    }

    /// One row more than asked for tells whether there is a next page.
    pub(crate) fn fetch(&self) -> i64 {
        self.limit + 1
    }

    /// A row that cannot be read is left out, and counts all the same: the rows after it are not lost.
    pub(crate) fn page<T>(
        &self,
        rows: impl ExactSizeIterator<Item = Result<T, StoreError>>,
        position: impl Fn(&T) -> Position,
    ) -> Page<T> {
        let limit = usize::try_from(self.limit).unwrap_or(usize::MAX);
        let more = rows.len() > limit;
        let read = rows.take(limit).filter_map(|row| row.inspect_err(left_out).ok());
        let items: Vec<T> = read.collect();
        let next = if more { items.last().map(position) } else { None };
        Page { items, next }
    }
}

/// A list's statement in both directions. `$select` is everything up to and with the filter's last
/// condition; its parameters come first, then creation time, id and limit, whose numbers are given.
macro_rules! list {
    ($row:ty, $request:expr, $connection:expr, $select:literal, [$time:literal, $id:literal, $limit:literal] $(, $parameter:expr)* $(,)?) => {
        if $request.oldest_first {
            sqlx::query_as!($row, $select + " AND (" + $time + "::timestamptz IS NULL OR (created_at, id) > (" + $time
                + ", " + $id + "::uuid)) ORDER BY created_at, id LIMIT " + $limit,
                $($parameter,)* $request.after_time(), $request.after_id(), $request.fetch())
                .fetch_all($connection).await?
        } else {
            sqlx::query_as!($row, $select + " AND (" + $time + "::timestamptz IS NULL OR (created_at, id) < (" + $time
                + ", " + $id + "::uuid)) ORDER BY created_at DESC, id DESC LIMIT " + $limit,
                $($parameter,)* $request.after_time(), $request.after_id(), $request.fetch())
                .fetch_all($connection).await?
        }
    };
}
pub(crate) use list;
