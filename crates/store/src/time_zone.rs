//! Which time zones there are: those that Postgres computes with.

use std::collections::HashSet;

use sqlx::PgConnection;
use tokio::sync::OnceCell;

use crate::{Database, StoreError, UnitOfWork};

/// The names of a server's zones are the same for each of its databases, and slow to list.
static ZONES: OnceCell<HashSet<String>> = OnceCell::const_new();

/// Whether it is `UTC` or a name of the IANA time zone database with its region, such as `Europe/Lisbon`.
pub async fn is_known(unit: &mut UnitOfWork, name: &str) -> Result<bool, StoreError> {
    Ok(zones(unit.connection()).await?.contains(name))
}

/// [`is_known`] for a reader.
pub async fn is_known_to(database: &Database, name: &str) -> Result<bool, StoreError> {
    Ok(zones(&mut *database.pool().acquire().await?).await?.contains(name))
}

async fn zones(connection: &mut PgConnection) -> Result<&'static HashSet<String>, StoreError> {
    ZONES
        .get_or_try_init(|| async {
            let names = sqlx::query_scalar!(
                r#"SELECT name AS "name!" FROM pg_timezone_names
                   WHERE name = 'UTC' OR (name LIKE '%/%' AND name NOT LIKE 'posix/%' AND name NOT LIKE 'right/%')"#
            )
            .fetch_all(connection)
            .await?;
            Ok(names.into_iter().collect())
        })
        .await
}
