//! The catalogue: versions of models and procedures, which never change once they are there.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, Utc};
use domain::equipment::Model;
use domain::procedure::Procedure;
use domain::text::Key;
use domain::time::Timestamp;
use serde_json::Value;

use crate::error::{Readable, stored, stored_json};
use crate::{Creation, Database, StoreError, UnitOfWork};

/// A version to keep.
#[derive(Debug, Clone)]
pub struct NewVersion<'a> {
    pub key: &'a str,
    pub version: u32,
    pub payload: &'a Value,
    pub body_sha256: &'a [u8],
    /// Comes with the service; the others are the company's own.
    pub built_in: bool,
}

/// A version that is kept.
#[derive(Debug, Clone)]
pub struct Kept<T> {
    pub entry: T,
    pub built_in: bool,
    pub created_at: Timestamp,
}

/// What each model is called in its newest version.
pub async fn model_titles(database: &Database) -> Result<HashMap<Key, String>, StoreError> {
    let models = sqlx::query!(
        r#"SELECT DISTINCT ON (key) key, payload->>'title' AS "title!" FROM model ORDER BY key, version DESC"#
    );
    let rows = models.fetch_all(database.pool()).await?;
    rows.into_iter().map(|row| Ok((stored(row.key.clone(), "model", "key", row.key)?, row.title))).collect()
}

pub(crate) struct Row {
    pub key: String,
    pub version: i32,
    pub payload: Value,
    pub built_in: bool,
    pub created_at: DateTime<Utc>,
}

impl Row {
    pub fn entry<T: serde::de::DeserializeOwned>(self, table: &'static str) -> Result<Kept<T>, StoreError> {
        let name = format!("{} version {}", self.key, self.version);
        let created_at = Timestamp::new(self.created_at).map_err(|reason| StoreError::BadRow {
            table,
            column: "created_at",
            row: name.clone(),
            reason: reason.to_string(),
        })?;
        let entry = stored_json(self.payload, table, "payload", name)?;
        Ok(Kept { entry, built_in: self.built_in, created_at })
    }
}

macro_rules! versions {
    ($($(#[$doc:meta])* $module:ident: $entry:ty, $table:literal;)+) => {$(
        $(#[$doc])*
        pub mod $module {
            #[allow(clippy::wildcard_imports, reason = "the module is a repetition of this file's own code")]
            use super::*;

            /// Keeps a version unless one of the same key and number is there.
            pub async fn insert(unit: &mut UnitOfWork, new: &NewVersion<'_>) -> Result<Creation, StoreError> {
                let now = unit.now().instant();
                let inserted = sqlx::query!(
                    "INSERT INTO " + $table + " (key, version, payload, built_in, body_sha256, created_at)
                     VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (key, version) DO NOTHING",
                    new.key,
                    new.version.cast_signed(),
                    new.payload,
                    new.built_in,
                    new.body_sha256,
                    now
                )
                .execute(unit.connection())
                .await?
                .rows_affected();
                let stored = sqlx::query_scalar!(
                    "SELECT body_sha256 FROM " + $table + " WHERE key = $1 AND version = $2",
                    new.key,
                    new.version.cast_signed()
                )
                .fetch_optional(unit.connection())
                .await?;
                Ok(Creation::judge(inserted, stored.as_deref(), new.body_sha256))
            }

            /// The number of the newest version below `version`, 0 if there is none.
            pub async fn newest_below(unit: &mut UnitOfWork, key: &str, version: u32) -> Result<u32, StoreError> {
                let newest = sqlx::query_scalar!(
                    "SELECT max(version) FROM " + $table + " WHERE key = $1 AND version < $2",
                    key,
                    version.cast_signed()
                )
                .fetch_one(unit.connection())
                .await?;
                Ok(newest.map_or(0, i32::cast_unsigned))
            }

            /// One version, or the newest.
            pub async fn find(
                database: &Database,
                key: &str,
                version: Option<u32>,
            ) -> Result<Option<Kept<$entry>>, StoreError> {
                sqlx::query_as!(
                    Row,
                    "SELECT key, version, payload, built_in, created_at FROM " + $table + "
                     WHERE key = $1 AND ($2::integer IS NULL OR version = $2) ORDER BY version DESC LIMIT 1",
                    key,
                    version.map(u32::cast_signed)
                )
                .fetch_optional(database.pool())
                .await?
                .map(|row| row.entry($table))
                .transpose()
            }

            /// One version as it stands in this unit of work.
            pub async fn get(
                unit: &mut UnitOfWork,
                key: &str,
                version: u32,
            ) -> Result<Option<Kept<$entry>>, StoreError> {
                sqlx::query_as!(
                    Row,
                    "SELECT key, version, payload, built_in, created_at FROM " + $table + "
                     WHERE key = $1 AND version = $2",
                    key,
                    version.cast_signed()
                )
                .fetch_optional(unit.connection())
                .await?
                .map(|row| row.entry($table))
                .transpose()
            }

            /// The newest version as it stands in this unit of work.
            pub async fn newest_of(unit: &mut UnitOfWork, key: &str) -> Result<Option<Kept<$entry>>, StoreError> {
                sqlx::query_as!(
                    Row,
                    "SELECT key, version, payload, built_in, created_at FROM " + $table + "
                     WHERE key = $1 ORDER BY version DESC LIMIT 1",
                    key
                )
                .fetch_optional(unit.connection())
                .await?
                .map(|row| row.entry($table))
                .transpose()
            }

            /// The newest version of each key, of those whose key or title contains `search`.
            pub async fn newest(
                database: &Database,
                search: Option<&str>,
            ) -> Result<Vec<Kept<$entry>>, StoreError> {
                sqlx::query_as!(
                    Row,
                    "SELECT DISTINCT ON (key) key, version, payload, built_in, created_at FROM " + $table + "
                     WHERE $1::text IS NULL OR strpos(key, lower($1)) > 0
                         OR strpos(lower(payload ->> 'title'), lower($1)) > 0
                     ORDER BY key, version DESC",
                    search
                )
                .fetch_all(database.pool())
                .await?
                .into_iter()
                .map(|row| row.entry($table))
                .readable()
            }

            /// The newest version of each key by its key, as it stands in this unit of work.
            pub async fn newest_by_key(unit: &mut UnitOfWork) -> Result<BTreeMap<String, $entry>, StoreError> {
                sqlx::query_as!(
                    Row,
                    "SELECT DISTINCT ON (key) key, version, payload, built_in, created_at FROM " + $table + "
                     ORDER BY key, version DESC"
                )
                .fetch_all(unit.connection())
                .await?
                .into_iter()
                .map(|row| Ok((row.key.clone(), row.entry($table)?.entry)))
                .collect()
            }
        }
    )+};
}

versions! {
    /// Models of machines.
    model: Model, "model";
    /// Test procedures.
    procedure: Procedure, "procedure";
}
