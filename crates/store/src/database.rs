//! The connection to one company's database, and its schema.

use std::time::Duration;

use chrono::{DateTime, Utc};
use sqlx::Connection;
use sqlx::postgres::{PgConnectOptions, PgConnection, PgPool, PgPoolOptions};

use crate::epoch::{self, LastTold};
use crate::error::StoreError;
use crate::unit_of_work::{Authority, UnitOfWork};

static MIGRATIONS: sqlx::migrate::Migrator = sqlx::migrate!("../../migrations");

/// One company's database.
#[derive(Debug, Clone)]
pub struct Database {
    pool: PgPool,
    /// For what is looked up while a unit of work holds a connection of `pool`: whoever waited there for a second one
    /// could wait for others who wait likewise.
    aside: PgPool,
    last_told: LastTold,
}

/// The schema found against the schema that this program knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Schema {
    Ready { version: i64 },
    Behind { found: Option<i64>, wanted: i64 },
}

/// What [`Database::migrate`] found and did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Migrated {
    /// The newest migration that was there before; none in a database that had no schema.
    pub before: Option<i64>,
    /// The newest that this program knows.
    pub known: i64,
    /// What was carried out, by name.
    pub applied: Vec<String>,
}

impl Migrated {
    /// Whether a newer program has been here.
    pub fn is_newer_than_known(&self) -> bool {
        self.before.is_some_and(|before| before > self.known)
    }

    fn is_pending(&self) -> bool {
        !self.applied.is_empty()
    }

    /// What is to be carried out where these are there. One with a lower number may have come later.
    fn over(there: &[i64]) -> Self {
        let pending = MIGRATIONS.iter().filter(|migration| !there.contains(&migration.version));
        Self {
            before: there.iter().max().copied(),
            known: newest_known(),
            applied: pending
                .map(|migration| format!("{:04} {}", migration.version, migration.description))
                .collect(),
        }
    }
}

fn newest_known() -> i64 {
    MIGRATIONS.iter().map(|migration| migration.version).max().unwrap_or(0)
}

impl Database {
    /// A pool of at most `connections`; a statement waits at most five seconds for one.
    pub async fn connect(url: &str, connections: u32) -> Result<Self, StoreError> {
        Self::connect_with(url.parse().map_err(StoreError::from)?, connections).await
    }

    /// As [`Self::connect`], but commits do not wait for the disk: for loading what can be loaded again.
    pub async fn connect_for_loading(url: &str, connections: u32) -> Result<Self, StoreError> {
        let options: PgConnectOptions = url.parse().map_err(StoreError::from)?;
        Self::connect_with(options.options([("synchronous_commit", "off")]), connections).await
    }

    async fn connect_with(options: PgConnectOptions, connections: u32) -> Result<Self, StoreError> {
        let options = options.application_name("ovenwright");
        let last_told = LastTold::default();
        let told = last_told.clone();
        let aside = aside(options.clone(), (connections / 4).clamp(1, ASIDE));
        let opened = PgPoolOptions::new()
            .max_connections(connections.saturating_sub(aside.options().get_max_connections()).max(1))
            .acquire_timeout(Duration::from_secs(5))
            // Given back connections were just looked at; to look again at each use costs a round trip.
            .test_before_acquire(false)
            .before_acquire(|connection, used| Box::pin(look_after_rest(connection, used.idle_for)))
            .after_connect(move |connection, _| {
                let told = told.clone();
                Box::pin(async move {
                    // Statements here take milliseconds; compiling one costs more than it ever saves (44 of 220 ms of
                    // Today's). Said here, since a pooler in between may refuse a connection that asks for it.
                    sqlx::query!("SET jit = off").execute(&mut *connection).await?;
                    epoch::keep(connection, &told).await
                })
            })
            .connect_with(options.clone())
            .await;
        match opened {
            Ok(pool) => Ok(Self { pool, aside, last_told }),
            // The pool waits for a database that starts, and in the end says only that it waited.
            Err(error @ sqlx::Error::PoolTimedOut) => {
                Err(connection_refusal(&options).await.unwrap_or(error.into()))
            }
            Err(error) => Err(error.into()),
        }
    }

    /// Over a pool that is already there: the tests' way.
    pub fn over(pool: PgPool) -> Self {
        let aside = aside((*pool.connect_options()).clone(), 1);
        Self { pool, aside, last_told: LastTold::default() }
    }

    /// The same database over connections of its own, for reads that a unit of work waits for. None of them may wait for
    /// another.
    #[must_use]
    pub fn aside(&self) -> Self {
        Self { pool: self.aside.clone(), ..self.clone() }
    }

    /// Brings the schema up to date and makes the partitions of the coming year. A schema newer than this program's
    /// stays as it is: the program that made it only added to what this one knows.
    pub async fn migrate(&self, now: DateTime<Utc>) -> Result<Migrated, StoreError> {
        let migrated = Migrated::over(&self.carried_out().await?);
        if migrated.is_pending() {
            MIGRATIONS.run(&self.pool).await.map_err(StoreError::Migration)?;
        }
        sqlx::query!("SELECT make_month_partitions($1, 13)", now).execute(&self.pool).await?;
        self.keep_life().await?;
        Ok(migrated)
    }

    /// Whether the schema is the one that this program was built with (or newer: migrations only add).
    pub async fn schema(&self) -> Result<Schema, StoreError> {
        let there = self.carried_out().await?;
        let found = there.iter().max().copied();
        let is_whole = MIGRATIONS.iter().all(|migration| there.contains(&migration.version));
        Ok(match found {
            Some(version) if is_whole => Schema::Ready { version },
            _ => Schema::Behind { found, wanted: newest_known() },
        })
    }

    /// The migrations that the database has.
    async fn carried_out(&self) -> Result<Vec<i64>, StoreError> {
        let known = sqlx::query_scalar!("SELECT to_regclass('_sqlx_migrations') IS NOT NULL")
            .fetch_one(&self.pool)
            .await?;
        if known != Some(true) {
            return Ok(Vec::new());
        }
        #[expect(clippy::disallowed_methods, reason = "the table is the migrator's own, not the schema's")]
        let versions: Vec<i64> = sqlx::query_scalar("SELECT version FROM _sqlx_migrations WHERE success")
            .fetch_all(&self.pool)
            .await?;
        Ok(versions)
    }

    /// Why the database gives no connection now; none if it gives one, so that all of the pool's are in use.
    pub async fn connection_refusal(&self) -> Option<StoreError> {
        connection_refusal(&self.pool.connect_options()).await
    }

    /// Begins a unit of work. Not safe against cancellation: `application` calls it in a task of its own.
    pub async fn begin(&self, authority: Authority) -> Result<UnitOfWork, StoreError> {
        #[expect(clippy::disallowed_methods, reason = "the one place that begins a transaction for writing")]
        let transaction = self.pool.begin().await?;
        Ok(UnitOfWork::new(transaction, authority))
    }

    pub(crate) fn pool(&self) -> &PgPool {
        &self.pool
    }

    pub(crate) fn last_told(&self) -> &LastTold {
        &self.last_told
    }

    /// Whether no customer was ever taken in.
    pub async fn is_empty(&self) -> Result<bool, StoreError> {
        let has_any = sqlx::query_scalar!(r#"SELECT EXISTS (SELECT FROM customer) AS "has_any!""#);
        Ok(!has_any.fetch_one(&self.pool).await?)
    }

    pub async fn close(&self) {
        self.aside.close().await;
        self.pool.close().await;
    }
}

/// Connections for [`Database::aside`] at most.
const ASIDE: u32 = 4;

fn aside(options: PgConnectOptions, connections: u32) -> PgPool {
    PgPoolOptions::new()
        .max_connections(connections)
        .acquire_timeout(Duration::from_secs(5))
        .test_before_acquire(false)
        .before_acquire(|connection, used| Box::pin(look_after_rest(connection, used.idle_for)))
        .connect_lazy_with(options)
}

/// Whether a connection that has rested still answers; the pool opens another in its place if not.
async fn look_after_rest(connection: &mut PgConnection, rest: Duration) -> Result<bool, sqlx::Error> {
    if rest > Duration::from_secs(1) {
        connection.ping().await?;
    }
    Ok(true)
}

/// What one connection, asked for beside the pool, is refused with.
async fn connection_refusal(options: &PgConnectOptions) -> Option<StoreError> {
    match tokio::time::timeout(Duration::from_secs(1), PgConnection::connect_with(options)).await {
        Ok(Ok(mut connection)) => {
            let refusal = epoch::expect_writable(&mut connection).await.err();
            drop(connection.close().await);
            refusal.map(StoreError::from)
        }
        Ok(Err(error)) => Some(error.into()),
        Err(_) => {
            let silence = std::io::Error::new(std::io::ErrorKind::TimedOut, "no answer within a second");
            Some(StoreError::Unavailable(sqlx::Error::Io(silence)))
        }
    }
}
