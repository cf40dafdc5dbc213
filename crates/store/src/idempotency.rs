//! What a request with an Idempotency-Key answered the first time.

use chrono::TimeDelta;
use domain::id::PersonId;
use domain::time::Timestamp;
use sha2::{Digest, Sha256};

use crate::error::{stored_json, to_json};
use crate::{Database, StoreError, UnitOfWork};

/// A request that names a key: whose, which operation, and what it asked.
#[derive(Debug, Clone)]
pub struct KeyedRequest {
    pub person: PersonId,
    pub operation: String,
    pub key: String,
    pub request_sha256: Vec<u8>,
}

/// An answer as it went over the wire.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptAnswer {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

#[derive(Debug)]
pub enum KeyState {
    /// Nobody used the key before; it is ours until this unit of work ends.
    Ours,
    /// The same request was answered before.
    Answered(KeptAnswer),
    /// The key was used for another request.
    UsedForAnother,
    /// A request with this key is being worked on now.
    Busy,
}

const KEPT_FOR: TimeDelta = TimeDelta::hours(24);

/// Takes the key for this unit of work, or says what it was used for.
pub async fn take(unit: &mut UnitOfWork, request: &KeyedRequest) -> Result<KeyState, StoreError> {
    let ours =
        sqlx::query_scalar!(r#"SELECT pg_try_advisory_xact_lock($1) AS "ours!""#, lock_number(request))
            .fetch_one(unit.connection())
            .await?;
    if !ours {
        return Ok(KeyState::Busy);
    }
    let now = unit.now().instant();
    let row = sqlx::query!(
        "SELECT request_sha256, status, headers, body FROM idempotency
         WHERE person_id = $1 AND operation = $2 AND key = $3 AND expires_at > $4",
        request.person.uuid(),
        request.operation,
        request.key,
        now,
    )
    .fetch_optional(unit.connection())
    .await?;
    Ok(match row {
        None => KeyState::Ours,
        Some(row) if row.request_sha256 != request.request_sha256 => KeyState::UsedForAnother,
        Some(row) => KeyState::Answered(KeptAnswer {
            status: row.status.cast_unsigned(),
            headers: stored_json(row.headers, "idempotency", "headers", &request.key)?,
            body: row.body,
        }),
    })
}

/// Remembers the answer, in the transaction of its effect.
pub async fn remember(
    unit: &mut UnitOfWork,
    request: &KeyedRequest,
    answer: &KeptAnswer,
) -> Result<(), StoreError> {
    let expires_at = unit.now().instant() + KEPT_FOR;
    sqlx::query!(
        "INSERT INTO idempotency (person_id, operation, key, request_sha256, status, headers, body, expires_at)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
         ON CONFLICT (person_id, operation, key) DO UPDATE SET request_sha256 = excluded.request_sha256,
             status = excluded.status, headers = excluded.headers, body = excluded.body,
             expires_at = excluded.expires_at",
        request.person.uuid(),
        request.operation,
        request.key,
        &request.request_sha256,
        answer.status.cast_signed(),
        to_json(&answer.headers, "idempotency", "headers", &request.key)?,
        &answer.body,
        expires_at,
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Deletes the answers that have expired, in small steps; returns how many.
pub async fn forget_expired(database: &Database, now: Timestamp) -> Result<u64, StoreError> {
    let mut forgotten = 0;
    loop {
        let step = sqlx::query!(
            "DELETE FROM idempotency WHERE (person_id, operation, key) IN (
                 SELECT person_id, operation, key FROM idempotency WHERE expires_at <= $1
                 ORDER BY expires_at LIMIT 1000 FOR UPDATE SKIP LOCKED)",
            now.instant()
        )
        .execute(database.pool())
        .await?
        .rows_affected();
        forgotten += step;
        if step == 0 {
            return Ok(forgotten);
        }
    }
}

/// The advisory lock that a key holds while its request runs.
pub fn lock_number(request: &KeyedRequest) -> i64 {
    let mut hash = Sha256::new();
    for part in [request.person.to_string().as_str(), &request.operation, &request.key] {
        hash.update(part.as_bytes());
        hash.update([0]);
    }
    let mut first = [0; 8];
    first.copy_from_slice(&hash.finalize()[..8]);
    i64::from_be_bytes(first)
}
