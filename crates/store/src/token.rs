//! Bearer tokens: only the hash of the secret is kept.

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{PersonId, TokenId};
use domain::role::{Role, Scope};
use domain::text::Name;
use domain::time::Timestamp;
use uuid::Uuid;

use crate::error::{Readable, noted_in_passing, stored, stored_option};
use crate::{Database, StoreError, UnitOfWork};

#[derive(Debug, Clone)]
pub struct NewToken {
    pub id: TokenId,
    pub person: PersonId,
    pub name: Name,
    pub sha256: [u8; 32],
    pub scopes: Vec<Scope>,
    pub expires_at: Option<Timestamp>,
    /// Of a session: it ends if it is not used until then.
    pub rests_until: Option<Timestamp>,
    /// It makes one phone a session and is then spent; it lets nobody do anything else.
    pub is_for_pairing: bool,
}

#[derive(Debug, Clone)]
pub struct Token {
    pub id: TokenId,
    pub person: PersonId,
    pub name: Name,
    pub scopes: Vec<Scope>,
    pub created_at: Timestamp,
    pub expires_at: Option<Timestamp>,
    pub revoked_at: Option<Timestamp>,
    pub last_used_day: Option<NaiveDate>,
}

/// Who stands behind a token that is good now.
#[derive(Debug, Clone)]
pub struct TokenHolder {
    pub token: TokenId,
    pub person: PersonId,
    pub name: String,
    pub role: Role,
    pub scopes: Vec<Scope>,
    pub last_used_day: Option<NaiveDate>,
    /// Of a session.
    pub rests_until: Option<Timestamp>,
}

struct Row {
    id: Uuid,
    person_id: Uuid,
    name: String,
    scopes: Vec<String>,
    created_at: DateTime<Utc>,
    expires_at: Option<DateTime<Utc>>,
    revoked_at: Option<DateTime<Utc>>,
    last_used_day: Option<NaiveDate>,
}

impl TryFrom<Row> for Token {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        Ok(Self {
            id: stored(row.id, "token", "id", id)?,
            person: stored(row.person_id, "token", "person_id", id)?,
            name: stored(row.name, "token", "name", id)?,
            scopes: stored_scopes(row.scopes, id)?,
            created_at: stored(row.created_at, "token", "created_at", id)?,
            expires_at: stored_option(row.expires_at, "token", "expires_at", id)?,
            revoked_at: stored_option(row.revoked_at, "token", "revoked_at", id)?,
            last_used_day: row.last_used_day,
        })
    }
}

fn stored_scopes(scopes: Vec<String>, id: Uuid) -> Result<Vec<Scope>, StoreError> {
    scopes.into_iter().map(|scope| stored(scope, "token", "scopes", id)).collect()
}

pub async fn insert(unit: &mut UnitOfWork, new: &NewToken) -> Result<(), StoreError> {
    let now = unit.now().instant();
    let scopes: Vec<String> = new.scopes.iter().map(ToString::to_string).collect();
    sqlx::query!(
        "INSERT INTO token (id, person_id, name, sha256, scopes, created_at, expires_at, rests_until, is_for_pairing)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)",
        new.id.uuid(),
        new.person.uuid(),
        new.name.as_str(),
        &new.sha256[..],
        &scopes,
        now,
        new.expires_at.map(Timestamp::instant),
        new.rests_until.map(Timestamp::instant),
        new.is_for_pairing,
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Revokes a token; revoking it again changes nothing. Returns whether there is such a token.
pub async fn revoke(unit: &mut UnitOfWork, id: TokenId) -> Result<bool, StoreError> {
    let now = unit.now().instant();
    let revoked =
        sqlx::query!("UPDATE token SET revoked_at = coalesce(revoked_at, $2) WHERE id = $1", id.uuid(), now)
            .execute(unit.connection())
            .await?;
    Ok(revoked.rows_affected() == 1)
}

/// Spends an offer to pair a phone. Returns whether it stood.
pub async fn spend_pairing(unit: &mut UnitOfWork, sha256: &[u8; 32]) -> Result<bool, StoreError> {
    let now = unit.now().instant();
    let spent = sqlx::query!(
        "UPDATE token SET revoked_at = $2
         WHERE sha256 = $1 AND is_for_pairing AND revoked_at IS NULL AND expires_at > $2",
        &sha256[..],
        now
    );
    Ok(spent.execute(unit.connection()).await?.rows_affected() == 1)
}

macro_rules! holder {
    ($database:expr, $condition:literal, $sha256:expr, $now:expr) => {
        sqlx::query!(
            "SELECT token.id, token.person_id, person.name, person.role, token.scopes, token.last_used_day, token.rests_until
             FROM token JOIN person ON person.id = token.person_id
             WHERE token.sha256 = $1 AND token.revoked_at IS NULL AND person.active
                 AND (token.expires_at IS NULL OR token.expires_at > $2)
                 AND (token.rests_until IS NULL OR token.rests_until > $2) AND " + $condition,
            &$sha256[..],
            $now.instant(),
        )
        .fetch_optional($database.pool())
        .await?
        .map(|row| {
            Ok(TokenHolder {
                token: stored(row.id, "token", "id", row.id)?,
                person: stored(row.person_id, "token", "person_id", row.id)?,
                name: row.name,
                role: stored(row.role, "person", "role", row.person_id)?,
                scopes: stored_scopes(row.scopes, row.id)?,
                last_used_day: row.last_used_day,
                rests_until: stored_option(row.rests_until, "token", "rests_until", row.id)?,
            })
        })
        .transpose()
    };
}

/// The holder of the token with this hash, if it is neither expired nor revoked and its person is active.
pub async fn holder(
    database: &Database,
    sha256: &[u8; 32],
    now: Timestamp,
) -> Result<Option<TokenHolder>, StoreError> {
    holder!(database, "NOT token.is_for_pairing", sha256, now)
}

/// Whose phone the offer with this hash is for, if it still stands.
pub async fn pairing(
    database: &Database,
    sha256: &[u8; 32],
    now: Timestamp,
) -> Result<Option<TokenHolder>, StoreError> {
    holder!(database, "token.is_for_pairing", sha256, now)
}

/// Whether a person is still active in this role and, where a token is named, that token is neither expired nor revoked.
pub async fn still_holds(
    database: &Database,
    person: PersonId,
    role: Role,
    token: Option<TokenId>,
    now: Timestamp,
) -> Result<bool, StoreError> {
    let holds = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT FROM person WHERE id = $1 AND role = $2 AND active)
               AND ($3::uuid IS NULL OR EXISTS (
                   SELECT FROM token WHERE id = $3 AND person_id = $1 AND revoked_at IS NULL
                       AND (expires_at IS NULL OR expires_at > $4) AND (rests_until IS NULL OR rests_until > $4)))
               AS "holds!""#,
        person.uuid(),
        role.to_string(),
        token.map(TokenId::uuid),
        now.instant(),
    );
    Ok(holds.fetch_one(database.pool()).await?)
}

/// Lets a session rest until then; it is in use.
pub async fn keep_awake(database: &Database, id: TokenId, until: Timestamp) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE token SET rests_until = $2 WHERE id = $1 AND rests_until < $2",
        id.uuid(),
        until.instant()
    )
    .execute(database.pool())
    .await?;
    Ok(())
}

/// Ends all sessions of a person, and what would begin one on a phone.
pub async fn end_sessions(unit: &mut UnitOfWork, person: PersonId) -> Result<(), StoreError> {
    let now = unit.now().instant();
    sqlx::query!(
        "UPDATE token SET revoked_at = $2
         WHERE person_id = $1 AND (rests_until IS NOT NULL OR is_for_pairing) AND revoked_at IS NULL",
        person.uuid(),
        now
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Notes the day of use, at most once a day for a token.
pub async fn note_use(database: &Database, id: TokenId, day: NaiveDate) {
    let used = sqlx::query!(
        "UPDATE token SET last_used_day = $2 WHERE id = $1 AND last_used_day IS DISTINCT FROM $2",
        id.uuid(),
        day
    );
    noted_in_passing("a token's use", used.execute(database.pool()).await.map(drop));
}

/// The tokens of a person, newest first.
pub async fn of_person(database: &Database, person: PersonId) -> Result<Vec<Token>, StoreError> {
    sqlx::query_as!(
        Row,
        "SELECT id, person_id, name, scopes, created_at, expires_at, revoked_at, last_used_day
         FROM token WHERE person_id = $1 ORDER BY created_at DESC, id DESC",
        person.uuid()
    )
    .fetch_all(database.pool())
    .await?
    .into_iter()
    .map(Token::try_from)
    .readable()
}
