//! Which life the database is in. A cursor of the change feed counts on three things: that what it told is still there, that
//! no number is given out again, and that numbers only grow. A restored copy breaks all three, a crash after commits that
//! did not wait for the disk the first. Either begins a new life, in which every older cursor starts over.
//!
//! Every connection that the pool opens looks, before it is used: no read can come between a change and its noticing.

use std::sync::{Arc, Mutex, PoisonError};

use sqlx::Connection;
use sqlx::postgres::PgConnection;
use sqlx::postgres::types::Oid;

use crate::feed::Place;
use crate::{Database, StoreError};

/// The newest place of the feed that this process has told to anybody.
#[derive(Debug, Clone, Default)]
pub(crate) struct LastTold(Arc<Mutex<Option<Place>>>);

impl LastTold {
    pub(crate) fn note(&self, place: Place) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(place);
    }

    fn place(&self) -> Option<Place> {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What tells this copy of the data from any other, and this start of its server from the one before.
#[derive(Debug, PartialEq, Eq)]
struct Identity {
    system_identifier: i64,
    timeline: String,
    database_oid: Oid,
    table_oid: Oid,
}

/// Holds the server behind a new connection against the one that was noted last, and begins a new life if they differ so
/// that a cursor could be wrong. Does nothing before the schema knows of lives.
pub(crate) async fn keep(connection: &mut PgConnection, told: &LastTold) -> Result<(), sqlx::Error> {
    expect_writable(connection).await?;
    let knows = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM pg_attribute
               WHERE attrelid = to_regclass('database_epoch') AND attname = 'begins_after_n') AS "knows!""#
    );
    if !knows.fetch_one(&mut *connection).await? {
        return Ok(());
    }
    let mut transaction = connection.begin().await?;
    // A session that does not wait for the disk must wait for it here: what it notes is why nobody may trust it.
    sqlx::query!("SET LOCAL synchronous_commit = on").execute(&mut *transaction).await?;
    let now = sqlx::query!(
        r#"SELECT (SELECT system_identifier FROM pg_control_system()) AS "system_identifier!",
               left(pg_walfile_name(pg_current_wal_insert_lsn()), 8) AS "timeline!",
               (SELECT oid FROM pg_database WHERE datname = current_database()) AS "database_oid!",
               'database_epoch'::regclass::oid AS "table_oid!",
               pg_postmaster_start_time() AS "server_started_at!",
               current_setting('fsync')::boolean
                   AND (SELECT reset_val FROM pg_settings WHERE name = 'synchronous_commit') <> 'off' AS "durable!""#
    )
    .fetch_one(&mut *transaction)
    .await?;
    let noted = sqlx::query!(
        "SELECT system_identifier, timeline, database_oid, table_oid, server_started_at, durable
         FROM database_epoch FOR UPDATE"
    )
    .fetch_one(&mut *transaction)
    .await?;
    let is_same_start = noted.server_started_at == Some(now.server_started_at);
    let found = Identity {
        system_identifier: now.system_identifier,
        timeline: now.timeline,
        database_oid: now.database_oid,
        table_oid: now.table_oid,
    };
    let is_same_copy =
        (noted.system_identifier, noted.timeline.as_deref(), noted.database_oid, noted.table_oid)
            == (
                Some(found.system_identifier),
                Some(found.timeline.as_str()),
                Some(found.database_oid),
                Some(found.table_oid),
            );
    if is_same_copy && is_same_start && (now.durable || !noted.durable) {
        return Ok(());
    }
    let may_have_lost = !is_same_start && (!noted.durable || has_lost(&mut transaction, told).await?);
    if !is_same_copy || may_have_lost {
        tracing::warn!(
            is_same_copy,
            may_have_lost,
            "this is another life of the database: every reader of the change feed starts over"
        );
        begin(&mut transaction).await?;
    }
    let durable = now.durable && (noted.durable || !is_same_start);
    sqlx::query!(
        "UPDATE database_epoch SET system_identifier = $1, timeline = $2, database_oid = $3, table_oid = $4,
             server_started_at = $5, durable = $6",
        found.system_identifier,
        found.timeline,
        found.database_oid,
        found.table_oid,
        now.server_started_at,
        durable,
    )
    .execute(&mut *transaction)
    .await?;
    transaction.commit().await?;
    Ok(())
}

/// Refuses a connection to a database that only reads: it would be used still when the database has become a copy that is
/// written to, without another look at its life.
pub(crate) async fn expect_writable(connection: &mut PgConnection) -> Result<(), sqlx::Error> {
    if sqlx::query_scalar!(r#"SELECT pg_is_in_recovery() AS "is_in_recovery!""#).fetch_one(connection).await?
    {
        let why = "it is being put back from a backup, or is a replica; it is used when it takes writes";
        return Err(sqlx::Error::Io(std::io::Error::new(std::io::ErrorKind::ReadOnlyFilesystem, why)));
    }
    Ok(())
}

/// Whether the place told last is no more.
async fn has_lost(connection: &mut PgConnection, told: &LastTold) -> Result<bool, sqlx::Error> {
    let Some(place @ Place { at: Some(at), .. }) = told.place() else { return Ok(false) };
    let is_there = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM event WHERE at = $1 AND x = ($2::bigint)::text::xid8 AND n = $3) AS "is_there!""#,
        at,
        place.x,
        place.n,
    );
    is_there.fetch_one(connection).await.map(|is_there| !is_there)
}

/// Begins a new life: waits for the writers under way, so that none of them writes an event with a number of the old one.
async fn begin(connection: &mut PgConnection) -> Result<(), sqlx::Error> {
    sqlx::query!("LOCK TABLE event IN SHARE ROW EXCLUSIVE MODE").execute(&mut *connection).await?;
    sqlx::query!(
        "UPDATE database_epoch SET epoch = gen_random_uuid(), begins_at_x = pg_snapshot_xmin(pg_current_snapshot()),
             begins_after_n = (SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM event_n)"
    )
    .execute(connection)
    .await?;
    Ok(())
}

impl Database {
    /// Notes which life the database is in: what every new connection of the pool does once the schema is there.
    pub async fn keep_life(&self) -> Result<(), StoreError> {
        let mut connection = self.pool().acquire().await?;
        Ok(keep(&mut connection, self.last_told()).await?)
    }

    /// What the service signs with for this purpose: made once, by the schema.
    pub async fn own_secret(&self, purpose: &str) -> Result<Vec<u8>, StoreError> {
        let secret = sqlx::query_scalar!("SELECT secret FROM own_secret WHERE purpose = $1", purpose);
        Ok(secret.fetch_one(self.pool()).await?)
    }
}
