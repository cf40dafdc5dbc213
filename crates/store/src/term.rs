//! The lists in which everybody speaks of a fault: the built-in entries and the company's own.

use crate::{Creation, Database, StoreError, UnitOfWork};

/// One entry of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Term {
    pub key: String,
    pub description: Option<String>,
    pub built_in: bool,
}

domain::word_list! {
    /// The lists that the store keeps.
    pub enum TermList {
        Position = "position",
        Symptom = "symptom",
        FailureMode = "failure_mode",
        Mechanism = "mechanism",
        Cause = "cause",
        Action = "action",
    }
}

/// What a form lets somebody choose from, each list by key: the company's own entries among the built-in ones.
#[derive(Debug, Clone, Default)]
pub struct Choices {
    pub symptoms: Vec<String>,
    pub failure_modes: Vec<String>,
    pub mechanisms: Vec<String>,
    pub causes: Vec<String>,
    pub actions: Vec<String>,
}

pub async fn choices(database: &Database) -> Result<Choices, StoreError> {
    Ok(sqlx::query_as!(
        Choices,
        r#"SELECT ARRAY(SELECT code FROM symptom_code ORDER BY code) AS "symptoms!",
               ARRAY(SELECT code FROM failure_mode ORDER BY code) AS "failure_modes!",
               ARRAY(SELECT code FROM mechanism ORDER BY code) AS "mechanisms!",
               ARRAY(SELECT code FROM cause ORDER BY code) AS "causes!",
               ARRAY(SELECT code FROM repair_action ORDER BY code) AS "actions!""#
    )
    .fetch_one(database.pool())
    .await?)
}

macro_rules! lists {
    ($($list:ident = $table:literal),+) => {
        /// Keeps entries that are not there yet; the others stay as they are. Returns how many were new.
        pub async fn install(
            unit: &mut UnitOfWork,
            list: TermList,
            keys: &[String],
            descriptions: &[String],
        ) -> Result<u64, StoreError> {
            let done = match list {
                $(TermList::$list => sqlx::query!(
                    "INSERT INTO " + $table + " (code, description, built_in)
                     SELECT code, description, true FROM UNNEST($1::text[], $2::text[]) AS t (code, description)
                     ON CONFLICT (code) DO NOTHING",
                    keys,
                    descriptions
                )
                .execute(unit.connection())
                .await?,)+
            };
            Ok(done.rows_affected())
        }

        /// Keeps an entry of the company's own. One that is there with another description differs.
        pub async fn insert(
            unit: &mut UnitOfWork,
            list: TermList,
            key: &str,
            description: &str,
        ) -> Result<Creation, StoreError> {
            let (inserted, stored) = match list {
                $(TermList::$list => {
                    let inserted = sqlx::query!(
                        "INSERT INTO " + $table + " (code, description) VALUES ($1, $2)
                         ON CONFLICT (code) DO NOTHING",
                        key,
                        description
                    )
                    .execute(unit.connection())
                    .await?
                    .rows_affected();
                    let stored = sqlx::query_scalar!("SELECT description FROM " + $table + " WHERE code = $1", key)
                        .fetch_one(unit.connection())
                        .await?;
                    (inserted, stored)
                })+
            };
            Ok(Creation::judge(inserted, stored.as_deref().map(str::as_bytes), description.as_bytes()))
        }

        pub async fn all(database: &Database, list: TermList) -> Result<Vec<Term>, StoreError> {
            Ok(match list {
                $(TermList::$list => sqlx::query_as!(
                    Term,
                    "SELECT code AS key, description, built_in FROM " + $table + " ORDER BY code"
                )
                .fetch_all(database.pool())
                .await?,)+
            })
        }
    };
}

lists! {
    Position = "position",
    Symptom = "symptom_code",
    FailureMode = "failure_mode",
    Mechanism = "mechanism",
    Cause = "cause",
    Action = "repair_action"
}
