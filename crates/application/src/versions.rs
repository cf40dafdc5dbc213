//! Versions of models, procedures and knowledge, kept once read: a version never changes.

use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};

use domain::equipment::Model;
use domain::procedure::Procedure;
use store::{Database, StoreError, UnitOfWork, knowledge, known_version};

use crate::diagnosis::WarmTables;
use crate::knowledge::Knowledge;

type Kept<T> = RwLock<HashMap<(String, u32), Arc<T>>>;

#[derive(Debug)]
pub struct Versions {
    database: Database,
    models: Kept<Model>,
    procedures: Kept<Procedure>,
    /// The newest one that was seen.
    knowledge: RwLock<Option<Arc<Knowledge>>>,
    tables: WarmTables,
}

impl Versions {
    pub fn new(database: Database) -> Self {
        Self {
            database,
            models: Kept::default(),
            procedures: Kept::default(),
            knowledge: RwLock::default(),
            tables: WarmTables::default(),
        }
    }

    pub fn database(&self) -> &Database {
        &self.database
    }

    pub(crate) fn tables(&self) -> &WarmTables {
        &self.tables
    }

    pub async fn model(&self, key: &str, version: u32) -> Result<Option<Arc<Model>>, StoreError> {
        if let Some(model) = kept(&self.models, key, version) {
            return Ok(Some(model));
        }
        let model = known_version::model(&self.database, key, version).await?;
        Ok(model.map(|model| keep(&self.models, key, version, model)))
    }

    pub async fn procedure(&self, key: &str, version: u32) -> Result<Option<Arc<Procedure>>, StoreError> {
        if let Some(procedure) = kept(&self.procedures, key, version) {
            return Ok(Some(procedure));
        }
        let procedure = known_version::procedure(&self.database, key, version).await?;
        Ok(procedure.map(|procedure| keep(&self.procedures, key, version, procedure)))
    }

    /// The newest version of each of these procedures that there is.
    pub async fn newest_procedures(&self, keys: &[String]) -> Result<Vec<Arc<Procedure>>, StoreError> {
        let mut newest = Vec::with_capacity(keys.len());
        if !keys.is_empty() {
            for (key, version) in known_version::newest_procedures(&self.database, keys).await? {
                newest.extend(self.procedure(&key, version).await?);
            }
        }
        Ok(newest)
    }

    /// The newest version of every procedure that there is.
    pub async fn all_procedures(&self) -> Result<Vec<Arc<Procedure>>, StoreError> {
        let mut newest = Vec::new();
        for (key, version) in known_version::every_newest_procedure(&self.database).await? {
            newest.extend(self.procedure(&key, version).await?);
        }
        Ok(newest)
    }

    /// The newest knowledge; none before anything was learned. Asks the store for its number only.
    pub async fn knowledge(&self) -> Result<Option<Arc<Knowledge>>, StoreError> {
        let Some(n) = knowledge::newest(&self.database).await? else { return Ok(None) };
        if let Some(kept) = self.kept_knowledge(n) {
            return Ok(Some(kept));
        }
        let knowledge = knowledge::get(&self.database, n).await?;
        Ok(knowledge.map(|knowledge| self.keep_knowledge(knowledge)))
    }

    /// [`Self::knowledge`] as it stands in a unit of work.
    pub async fn knowledge_within(
        &self,
        unit: &mut UnitOfWork,
    ) -> Result<Option<Arc<Knowledge>>, StoreError> {
        let Some(n) = knowledge::newest_within(unit).await? else { return Ok(None) };
        if let Some(kept) = self.kept_knowledge(n) {
            return Ok(Some(kept));
        }
        let knowledge = knowledge::get_within(unit, n).await?;
        Ok(knowledge.map(|knowledge| self.keep_knowledge(knowledge)))
    }

    fn kept_knowledge(&self, n: i64) -> Option<Arc<Knowledge>> {
        let kept = self.knowledge.read().unwrap_or_else(PoisonError::into_inner);
        kept.as_ref().filter(|kept| kept.n() == n).cloned()
    }

    fn keep_knowledge(&self, knowledge: knowledge::Knowledge) -> Arc<Knowledge> {
        let knowledge = Arc::new(Knowledge::from(knowledge));
        let mut kept = self.knowledge.write().unwrap_or_else(PoisonError::into_inner);
        *kept = Some(Arc::clone(&knowledge));
        knowledge
    }
}

fn kept<T>(kept: &Kept<T>, key: &str, version: u32) -> Option<Arc<T>> {
    let kept = kept.read().unwrap_or_else(PoisonError::into_inner);
    kept.get(&(key.to_owned(), version)).cloned()
}

fn keep<T>(kept: &Kept<T>, key: &str, version: u32, entry: T) -> Arc<T> {
    let entry = Arc::new(entry);
    let mut kept = kept.write().unwrap_or_else(PoisonError::into_inner);
    kept.insert((key.to_owned(), version), Arc::clone(&entry));
    entry
}
