//! What can go wrong below the use cases.

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
