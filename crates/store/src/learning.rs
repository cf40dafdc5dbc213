//! The job that makes a knowledge version: what was asked for, how far it is, and what each appliance has
//! given so far.

pub mod jobs;
mod unit;

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, KnowledgeVersionId, PersonId};
use domain::time::Timestamp;
use domain::word_list;
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_json, stored_option};
use crate::page::list;
use crate::test_run::ApplianceContext;
use crate::{Creation, Database, Page, PageRequest, Position, StoreError, UnitOfWork};

pub use unit::{Group, GroupUnits, UnitEvidence, clear, groups, put, units};

#[derive(Debug, Clone, Serialize)]
pub struct NewLearning {
    pub id: KnowledgeVersionId,
    pub as_of: Timestamp,
}

word_list! {
    /// How far a learning is.
    pub enum LearningState {
        Running = "running",
        Done = "done",
        /// It cannot go on; the failure says why. Another may be asked for.
        Failed = "failed",
    }
}

#[derive(Debug, Clone)]
pub struct Learning {
    /// The number of the knowledge version that it makes.
    pub n: i64,
    pub id: KnowledgeVersionId,
    pub as_of: Timestamp,
    pub state: LearningState,
    pub failure: Option<String>,
    pub asked_by: PersonId,
    pub appliances: i64,
    pub appliances_done: i64,
    /// Jobs whose readings could not be graded.
    pub jobs_unreadable: i64,
    pub last_appliance: Option<ApplianceId>,
    pub ended_at: Option<Timestamp>,
    /// What was stored by then is what it learns from.
    pub created_at: Timestamp,
    /// References in the version; none before it is done.
    pub references: Option<i64>,
    pub made_from: Option<Value>,
}

struct Row {
    n: i64,
    id: Uuid,
    as_of: DateTime<Utc>,
    state: String,
    failure: Option<String>,
    asked_by: Uuid,
    appliances: i64,
    appliances_done: i64,
    jobs_unreadable: i64,
    last_appliance_id: Option<Uuid>,
    ended_at: Option<DateTime<Utc>>,
    created_at: DateTime<Utc>,
    reference_count: Option<i64>,
    made_from: Option<Value>,
}

impl TryFrom<Row> for Learning {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        const TABLE: &str = "learning";
        let id = row.id;
        Ok(Self {
            n: row.n,
            id: stored(row.id, TABLE, "id", id)?,
            as_of: stored(row.as_of, TABLE, "as_of", id)?,
            state: stored(row.state, TABLE, "state", id)?,
            failure: row.failure,
            asked_by: stored(row.asked_by, TABLE, "asked_by", id)?,
            appliances: row.appliances,
            appliances_done: row.appliances_done,
            jobs_unreadable: row.jobs_unreadable,
            last_appliance: stored_option(row.last_appliance_id, TABLE, "last_appliance_id", id)?,
            ended_at: stored_option(row.ended_at, TABLE, "ended_at", id)?,
            created_at: stored(row.created_at, TABLE, "created_at", id)?,
            references: row.reference_count,
            made_from: row.made_from,
        })
    }
}

/// Asks for a learning under the next number. Refused by `learning_one_at_a_time` while another runs.
pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewLearning,
    by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM learning WHERE id = $1",
        sqlx::query!(
            "INSERT INTO learning (n, id, as_of, state, asked_by, appliances, body_sha256, created_at)
             SELECT greatest((SELECT max(n) FROM learning), (SELECT max(n) FROM knowledge_version), 0) + 1, $1, $2,
                 'running', $3, (SELECT count(*) FROM appliance WHERE created_at <= $5), $4, $5
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.as_of.instant(),
            by.uuid(),
            hash,
            now
        )
    ))
}

/// A learning's statement: its row and what it made.
macro_rules! learnings {
    ($condition:literal, $($parameter:expr),*) => {
        sqlx::query_as!(
            Row,
            r#"SELECT l.n, l.id, l.as_of, l.state, l.failure, l.asked_by, l.appliances, l.appliances_done,
                   l.jobs_unreadable, l.last_appliance_id, l.ended_at, l.created_at,
                   jsonb_array_length(v.payload->'known_good')::bigint AS reference_count,
                   v.made_from AS "made_from?"
               FROM learning l LEFT JOIN knowledge_version v ON v.n = l.n WHERE "# + $condition,
            $($parameter),*
        )
    };
}

pub async fn get(unit: &mut UnitOfWork, id: KnowledgeVersionId) -> Result<Option<Learning>, StoreError> {
    let row = learnings!("l.id = $1", id.uuid()).fetch_optional(unit.connection()).await?;
    row.map(Learning::try_from).readable()
}

pub async fn find(database: &Database, n: i64) -> Result<Option<Learning>, StoreError> {
    let row = learnings!("l.n = $1", n).fetch_optional(database.pool()).await?;
    row.map(Learning::try_from).readable()
}

pub async fn list(database: &Database, request: &PageRequest) -> Result<Page<Learning>, StoreError> {
    let rows = list!(
        Row,
        request,
        database.pool(),
        r#"SELECT l.n, l.id, l.as_of, l.state, l.failure, l.asked_by, l.appliances, l.appliances_done,
               l.jobs_unreadable, l.last_appliance_id, l.ended_at, l.created_at, l.reference_count,
               l.made_from AS "made_from?"
           FROM (SELECT learning.*, jsonb_array_length(v.payload->'known_good')::bigint AS reference_count, v.made_from
                 FROM learning LEFT JOIN knowledge_version v ON v.n = learning.n) AS l WHERE true"#,
        ["$1", "$2", "$3"],
    );
    let items = rows.into_iter().map(Learning::try_from);
    Ok(request.page(items, |learning: &Learning| Position {
        created_at: learning.created_at.instant(),
        id: learning.id.uuid(),
    }))
}

/// Whether a learning waits to be worked on.
pub async fn is_running(database: &Database) -> Result<bool, StoreError> {
    let found =
        sqlx::query_scalar!(r#"SELECT EXISTS (SELECT FROM learning WHERE state = 'running') AS "found!""#);
    Ok(found.fetch_one(database.pool()).await?)
}

/// Takes the running learning for this unit of work alone; none if there is none, or another has it. The
/// lock is an advisory one, so that reading a page gives the transaction no number yet, for which the change
/// feed would have to wait.
pub async fn take(unit: &mut UnitOfWork) -> Result<Option<Learning>, StoreError> {
    let is_ours = sqlx::query_scalar!(
        r#"SELECT pg_try_advisory_xact_lock(hashtextextended('learning', 0)) AS "is_ours!""#
    )
    .fetch_one(unit.connection())
    .await?;
    if !is_ours {
        return Ok(None);
    }
    let row = learnings!("l.state = 'running'",).fetch_optional(unit.connection()).await?;
    row.map(Learning::try_from).readable()
}

/// The next appliances of a learning, in the order of their ids.
pub async fn appliances(
    unit: &mut UnitOfWork,
    learning: &Learning,
    limit: i64,
) -> Result<Vec<(ApplianceId, ApplianceContext)>, StoreError> {
    let rows = sqlx::query!(
        "SELECT id, site_id, model_key, model_version, limits FROM appliance
         WHERE created_at <= $1 AND ($2::uuid IS NULL OR id > $2) ORDER BY id LIMIT $3",
        learning.created_at.instant(),
        learning.last_appliance.map(ApplianceId::uuid),
        limit
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let context = ApplianceContext {
                site: stored(row.site_id, "appliance", "site_id", row.id)?,
                model_key: row.model_key,
                model_version: row.model_version.cast_unsigned(),
                limits: stored_json(row.limits, "appliance", "limits", row.id)?,
            };
            Ok((stored(row.id, "appliance", "id", row.id)?, context))
        })
        .collect()
}

/// Notes how far it is.
pub async fn advance(
    unit: &mut UnitOfWork,
    n: i64,
    last: ApplianceId,
    appliances: i64,
    unreadable: i64,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE learning SET last_appliance_id = $2, appliances_done = appliances_done + $3,
             jobs_unreadable = jobs_unreadable + $4 WHERE n = $1",
        n,
        last.uuid(),
        appliances,
        unreadable
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Ends it: done, or failed for the reason given.
pub async fn end(unit: &mut UnitOfWork, n: i64, failure: Option<&str>) -> Result<(), StoreError> {
    let state = if failure.is_some() { LearningState::Failed } else { LearningState::Done };
    let now = unit.now().instant();
    sqlx::query!(
        "UPDATE learning SET state = $2, failure = $3, ended_at = $4 WHERE n = $1 AND state = 'running'",
        n,
        state.word(),
        failure,
        now
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}
