//! Versions of models and procedures, kept once read: a version never changes.

use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};

use domain::equipment::Model;
use domain::procedure::Procedure;
use store::{Database, StoreError, known_version};

type Kept<T> = RwLock<HashMap<(String, u32), Arc<T>>>;

#[derive(Debug)]
pub struct Versions {
    database: Database,
    models: Kept<Model>,
    procedures: Kept<Procedure>,
}

impl Versions {
    pub fn new(database: Database) -> Self {
        Self { database, models: Kept::default(), procedures: Kept::default() }
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
