//! What can go wrong below the use cases.

use std::cell::RefCell;

/// A failure of the store. Its text is for the log; no part of it is shown to a client.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// A value that must be unique is taken.
    #[error("constraint {constraint} refuses a duplicate")]
    Duplicate { constraint: String },
    /// A row that is pointed at does not exist.
    #[error("constraint {constraint} refuses a dangling reference")]
    Dangling { constraint: String },
    /// A rule of the schema refuses the row.
    #[error("constraint {constraint} refuses the row")]
    Refused { constraint: String },
    /// A stored row cannot be read back into the domain's types.
    #[error("table {table}, column {column}, row {row}: {reason}")]
    BadRow { table: &'static str, column: &'static str, row: String, reason: String },
    /// The database could not be reached in time, broke off, or says that it has no room now.
    #[error("the database is unavailable")]
    Unavailable(#[source] sqlx::Error),
    #[error("the database failed")]
    Database(#[source] sqlx::Error),
    #[error("the schema could not be migrated")]
    Migration(#[source] sqlx::migrate::MigrateError),
}

impl StoreError {
    /// The error and what it comes from, each text once: a cause that its effect already quotes is left out.
    pub fn reasons(&self) -> String {
        let mut text = self.to_string();
        let mut source = std::error::Error::source(self);
        while let Some(cause) = source {
            let cause_text = cause.to_string();
            if !text.contains(&cause_text) {
                text = format!("{text}: {cause_text}");
            }
            source = cause.source();
        }
        text
    }

    /// Whether the database answers, but its disk is full (Postgres' code `disk_full`).
    pub fn is_out_of_room(&self) -> bool {
        let Self::Unavailable(sqlx::Error::Database(refusal)) = self else { return false };
        refusal.code().as_deref() == Some("53100")
    }
}

/// What a read notes in passing may fail, as on a full disk: it is read all the same, and the next reader notes it.
pub fn noted_in_passing<E: Into<StoreError>>(what: &'static str, noted: Result<(), E>) {
    if let Err(error) = noted {
        tracing::warn!(reasons = error.into().reasons(), "{what} is not noted");
    }
}

/// Whether Postgres refuses because of its own state and not because of the statement: classes 08 (connection),
/// 53 (out of room or of connections) and 57P (shutting down or starting up) of its error codes.
fn is_passing(refusal: &dyn sqlx::error::DatabaseError) -> bool {
    refusal.code().is_some_and(|code| ["08", "53", "57P"].iter().any(|class| code.starts_with(class)))
}

impl From<sqlx::Error> for StoreError {
    fn from(error: sqlx::Error) -> Self {
        if let sqlx::Error::Database(refusal) = &error {
            if is_passing(refusal.as_ref()) {
                return Self::Unavailable(error);
            }
            let constraint = refusal.constraint().unwrap_or_default().to_owned();
            return match refusal.kind() {
                sqlx::error::ErrorKind::UniqueViolation => Self::Duplicate { constraint },
                sqlx::error::ErrorKind::ForeignKeyViolation => Self::Dangling { constraint },
                sqlx::error::ErrorKind::CheckViolation => Self::Refused { constraint },
                _ => Self::Database(error),
            };
        }
        match error {
            sqlx::Error::PoolTimedOut | sqlx::Error::PoolClosed | sqlx::Error::Io(_) => {
                Self::Unavailable(error)
            }
            other => Self::Database(other),
        }
    }
}

/// Turns a stored text or UUID into the domain's type, or names the row that cannot be.
pub fn stored<T, S>(
    value: S,
    table: &'static str,
    column: &'static str,
    row: impl std::fmt::Display,
) -> Result<T, StoreError>
where
    T: TryFrom<S>,
    T::Error: std::fmt::Display,
{
    T::try_from(value).map_err(|reason| StoreError::BadRow {
        table,
        column,
        row: row.to_string(),
        reason: reason.to_string(),
    })
}

/// [`stored`] of a column that may be null.
pub fn stored_option<T, S>(
    value: Option<S>,
    table: &'static str,
    column: &'static str,
    row: impl std::fmt::Display,
) -> Result<Option<T>, StoreError>
where
    T: TryFrom<S>,
    T::Error: std::fmt::Display,
{
    value.map(|value| stored(value, table, column, row)).transpose()
}

/// [`stored`] of every member of an array.
pub fn stored_list<T, S>(
    values: Vec<S>,
    table: &'static str,
    column: &'static str,
    row: uuid::Uuid,
) -> Result<Vec<T>, StoreError>
where
    T: TryFrom<S>,
    T::Error: std::fmt::Display,
{
    values.into_iter().map(|value| stored(value, table, column, row)).collect()
}

/// Reads a stored JSON document as the domain's type, or names the row that cannot be.
pub fn stored_json<T: serde::de::DeserializeOwned>(
    value: serde_json::Value,
    table: &'static str,
    column: &'static str,
    row: impl std::fmt::Display,
) -> Result<T, StoreError> {
    serde_json::from_value(value).map_err(|reason| StoreError::BadRow {
        table,
        column,
        row: row.to_string(),
        reason: reason.to_string(),
    })
}

/// What is to be stored, as JSON.
pub fn to_json(
    value: &impl serde::Serialize,
    table: &'static str,
    column: &'static str,
    row: impl std::fmt::Display,
) -> Result<serde_json::Value, StoreError> {
    serde_json::to_value(value).map_err(|reason| StoreError::BadRow {
        table,
        column,
        row: row.to_string(),
        reason: reason.to_string(),
    })
}

/// Stored rows as the domain's types, of a list or of one that may be absent.
///
/// A row that a newer or a broken version wrote is named in the log and left out: it must not take what stands beside it along.
/// `ovenwright check` tells of it.
pub(crate) trait Readable<T>: Sized {
    fn readable<C: Kept<T>>(self) -> Result<C, StoreError>;
}

/// What rows are gathered in.
pub(crate) trait Kept<T>: Sized {
    fn keep(rows: impl Iterator<Item = T>) -> Self;
}

impl<T> Kept<T> for Vec<T> {
    fn keep(rows: impl Iterator<Item = T>) -> Self {
        rows.collect()
    }
}

impl<T> Kept<T> for Option<T> {
    fn keep(mut rows: impl Iterator<Item = T>) -> Self {
        rows.next()
    }
}

impl<T, I: IntoIterator<Item = Result<T, StoreError>>> Readable<T> for I {
    fn readable<C: Kept<T>>(self) -> Result<C, StoreError> {
        let mut failed = None;
        let kept = C::keep(self.into_iter().filter_map(|row| match row {
            Ok(row) => Some(row),
            Err(error @ StoreError::BadRow { .. }) => {
                left_out(&error);
                None
            }
            Err(error) => {
                failed = Some(error);
                None
            }
        }));
        failed.map_or(Ok(kept), Err)
    }
}

/// Names a row that cannot be read: in the log, or to whoever asked by [`naming_what_is_left_out`].
pub(crate) fn left_out(error: &StoreError) {
    let named = LEFT_OUT.try_with(|rows| rows.borrow_mut().push(error.to_string()));
    if named.is_err() {
        tracing::error!(reason = %error, "a stored row cannot be read and is left out");
    }
}

tokio::task_local! {
    static LEFT_OUT: RefCell<Vec<String>>;
}

/// Reads, and names every row that was left out.
pub(crate) async fn naming_what_is_left_out(
    read: impl Future<Output = Result<(), StoreError>>,
) -> Result<Vec<String>, StoreError> {
    let naming = async {
        read.await?;
        Ok(LEFT_OUT.with(RefCell::take))
    };
    LEFT_OUT.scope(RefCell::default(), naming).await
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(values: &[i64]) -> impl Iterator<Item = Result<u32, StoreError>> {
        values.iter().map(|value| stored(*value, "thing", "count", value))
    }

    #[test]
    fn a_row_that_cannot_be_read_leaves_the_others_be() {
        assert_eq!(rows(&[1, -2, 3]).readable::<Vec<_>>().unwrap(), [1, 3]);
        assert_eq!(rows(&[-1]).readable::<Option<_>>().unwrap(), None);
        let broken = [Ok(1), Err(StoreError::Unavailable(sqlx::Error::PoolClosed)), Ok(2)];
        assert!(broken.readable::<Vec<_>>().is_err(), "what is no bad row fails as before");
    }
}
