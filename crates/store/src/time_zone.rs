//! Which time zones there are: those that Postgres computes with.

use std::collections::HashSet;

use tokio::sync::OnceCell;

use crate::{StoreError, UnitOfWork};

/// The names of a server's zones are the same for each of its databases, and slow to list.
static ZONES: OnceCell<HashSet<String>> = OnceCell::const_new();

/// Whether it is `UTC` or a name of the IANA time zone database with its region, such as `Europe/Lisbon`.
pub async fn is_known(unit: &mut UnitOfWork, name: &str) -> Result<bool, StoreError> {
    let zones = ZONES
        .get_or_try_init(|| async {
            let names = sqlx::query_scalar!(
                r#"SELECT name AS "name!" FROM pg_timezone_names
                   WHERE name = 'UTC' OR (name LIKE '%/%' AND name NOT LIKE 'posix/%' AND name NOT LIKE 'right/%')"#
            )
            .fetch_all(unit.connection())
            .await?;
            Ok::<_, StoreError>(names.into_iter().collect())
        })
        .await?;
    Ok(zones.contains(name))
}
