//! Diagnoses as they are kept: for a while in a cache that may be emptied at any time, and for ever where an
//! order was closed on one.

use chrono::TimeDelta;
use domain::diagnosis::Diagnosis;
use domain::id::{ApplianceId, TestRunId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Symptom;
use serde::{Deserialize, Serialize};

use crate::error::{noted_in_passing, stored_json};
use crate::{Database, StoreError};

/// A diagnosis with what it was made of.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Diagnosed {
    /// None of a case that nobody called about.
    pub appliance: Option<ApplianceId>,
    pub model: Key,
    pub model_version: u32,
    pub catalogue_version: u32,
    /// The knowledge that its rates come from; none while they are the catalogue's own.
    pub knowledge_version: Option<i64>,
    pub complaint: Option<Symptom>,
    /// The epoch in which the machine is now.
    pub current_epoch: u32,
    pub evidence_version: i64,
    /// The call was drawn as one of those on which everything is tested.
    pub full_checklist: bool,
    /// The run that each observation comes from, by the observation's index.
    pub observed_in: Vec<Option<TestRunId>>,
    /// What could not be brought to the diagnosis.
    pub not_weighed: Vec<NotWeighed>,
    pub diagnosis: Diagnosis,
}

/// An answer, a finding, a reading that counts for nothing, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NotWeighed {
    pub what: String,
    pub reason: String,
}

/// How long an answer is kept that nobody asks for.
const KEPT: TimeDelta = TimeDelta::days(30);

/// The cached diagnosis of an input; none if there is none, or it is of an older form.
pub async fn cached(
    database: &Database,
    input_sha256: &str,
    now: Timestamp,
) -> Result<Option<Diagnosis>, StoreError> {
    let row = sqlx::query!(
        "SELECT payload, used_at FROM diagnosis_cache WHERE input_sha256 = decode($1, 'hex')",
        input_sha256
    )
    .fetch_optional(database.pool())
    .await?;
    let Some(row) = row else { return Ok(None) };
    if now.instant() - row.used_at > TimeDelta::days(1) {
        let used = sqlx::query!(
            "UPDATE diagnosis_cache SET used_at = $2 WHERE input_sha256 = decode($1, 'hex')",
            input_sha256,
            now.instant()
        );
        noted_in_passing("the use of a diagnosis", used.execute(database.pool()).await.map(drop));
    }
    Ok(stored_json(row.payload, "diagnosis_cache", "payload", input_sha256).ok())
}

/// Caches a diagnosis, and throws some away that nobody asks for. No unit of work: nobody sees it, and it may be
/// lost.
pub async fn cache(database: &Database, diagnosis: &Diagnosis, now: Timestamp) {
    let payload = match serde_json::to_value(diagnosis) {
        Ok(payload) => payload,
        Err(error) => return tracing::error!(%error, "a diagnosis cannot be written as JSON and is not kept"),
    };
    let cached = sqlx::query!(
        "WITH old AS (DELETE FROM diagnosis_cache WHERE input_sha256 IN (
             SELECT input_sha256 FROM diagnosis_cache WHERE used_at < $4 ORDER BY used_at LIMIT 20
             FOR UPDATE SKIP LOCKED))
         INSERT INTO diagnosis_cache (input_sha256, payload, used_at) VALUES (decode($1, 'hex'), $2, $3)
         ON CONFLICT (input_sha256) DO UPDATE SET payload = excluded.payload, used_at = excluded.used_at",
        &diagnosis.input_sha256,
        payload,
        now.instant(),
        now.instant() - KEPT
    );
    noted_in_passing("a diagnosis", cached.execute(database.pool()).await.map(drop));
}
