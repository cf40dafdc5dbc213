//! What diagnoses compute with, compiled once and kept while it is asked for.

use std::sync::{Arc, Mutex, PoisonError};

use domain::diagnosis::Tables;
use domain::equipment::FaultCatalogue;
use domain::text::Key;
use domain::violation::Violation;
use store::fault_catalogue::{self, Newest};
use store::{Database, catalogue, knowledge};
use tokio::sync::{OnceCell, Semaphore};

use crate::Refusal;
use crate::versions::Versions;

/// The faults of one version of a model, with the numbers that were learned, if any were.
pub struct KnownFaults {
    pub tables: Tables,
    pub model: Key,
    pub model_version: u32,
    pub catalogue_version: u32,
    pub knowledge_version: Option<i64>,
}

/// From which knowledge the numbers are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Numbers {
    /// What was learned last from the newest catalogue, or else the catalogue's own.
    Newest,
    Learned(i64),
    /// The catalogue's own, of this version.
    OfCatalogue(u32),
}

/// Compiled by whoever asks first; the others wait.
type Compiled = OnceCell<Arc<KnownFaults>>;

/// Tables that were used last. A handful of models is in service at once; each takes megabytes.
pub struct WarmTables {
    kept: Mutex<Vec<(Wanted, Arc<Compiled>)>>,
    /// One computation for each core.
    places: Semaphore,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Wanted {
    model: String,
    model_version: u32,
    newest: Newest,
}

const KEPT: usize = 8;

impl std::fmt::Debug for WarmTables {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("WarmTables").finish_non_exhaustive()
    }
}

impl Default for WarmTables {
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        Self { kept: Mutex::default(), places: Semaphore::new(cores) }
    }
}

impl WarmTables {
    /// Computes away from the threads that serve requests.
    pub async fn compute<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Refusal> {
        let broke_off =
            |error: &dyn std::fmt::Display| Refusal::Internal(format!("a computation broke off: {error}"));
        let _place = self.places.acquire().await.map_err(|error| broke_off(&error))?;
        tokio::task::spawn_blocking(work).await.map_err(|error| broke_off(&error))
    }

    fn cell(&self, wanted: &Wanted) -> Arc<Compiled> {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let found = kept.iter().position(|(of, _)| of == wanted);
        let entry = found.map_or_else(|| (wanted.clone(), Arc::default()), |index| kept.remove(index));
        let cell = Arc::clone(&entry.1);
        // The last used stands last.
        kept.push(entry);
        let surplus = kept.len().saturating_sub(KEPT);
        kept.drain(..surplus);
        cell
    }
}

impl Versions {
    /// What is known of the faults of a version of a model.
    pub async fn known_faults(
        &self,
        model: &str,
        model_version: u32,
        numbers: Numbers,
    ) -> Result<Arc<KnownFaults>, Refusal> {
        let database = self.database();
        let chosen = if let Numbers::Learned(n) = numbers { Some(n) } else { None };
        let newest = fault_catalogue::newest_with_knowledge(database, model, chosen).await?;
        let Some(mut newest) = newest else {
            let detail = match chosen {
                Some(n) => format!("the knowledge version {n} knows nothing of the faults of {model}"),
                None => format!(
                    "the model {model} has no catalogue of faults to diagnose with; an administrator puts one in"
                ),
            };
            return Err(Refusal::Conflict { detail });
        };
        if let Numbers::OfCatalogue(version) = numbers {
            newest = Newest { catalogue: version, knowledge: None, ..newest };
        }
        let wanted = Wanted { model: model.to_owned(), model_version, newest };
        let cell = self.tables().cell(&wanted);
        cell.get_or_try_init(|| self.compile(&wanted)).await.map(Arc::clone)
    }

    async fn compile(&self, wanted: &Wanted) -> Result<Arc<KnownFaults>, Refusal> {
        let model = self.model(&wanted.model, wanted.model_version).await?;
        let model = model.ok_or_else(|| missing("model", wanted))?;
        let faults = faults(self.database(), wanted).await?;
        let procedures = catalogue::procedure::newest(self.database(), None).await?;
        let procedures: Vec<_> = procedures.into_iter().map(|kept| kept.entry).collect();
        let Wanted { newest, model_version, .. } = *wanted;
        let compiled = move || {
            let tables = Tables::compile(&faults, &model, &procedures)?;
            Ok::<_, Vec<Violation>>(Arc::new(KnownFaults {
                tables,
                model: model.key.clone(),
                model_version,
                catalogue_version: newest.catalogue,
                knowledge_version: newest.knowledge,
            }))
        };
        self.tables().compute(compiled).await?.map_err(|violations| unfit(wanted, &violations))
    }
}

async fn faults(database: &Database, wanted: &Wanted) -> Result<FaultCatalogue, Refusal> {
    let Newest { catalogue, knowledge, .. } = wanted.newest;
    if let Some(n) = knowledge {
        let learned = knowledge::faults(database, n, &wanted.model).await?;
        return Ok(learned.ok_or_else(|| missing("knowledge", wanted))?.catalogue);
    }
    let kept = fault_catalogue::find(database, &wanted.model, Some(catalogue)).await?;
    Ok(kept.ok_or_else(|| missing("fault catalogue", wanted))?.entry)
}

fn missing(what: &str, wanted: &Wanted) -> Refusal {
    Refusal::Internal(format!("no {what} of {wanted:?}"))
}

/// The catalogue was checked against another version of the model.
fn unfit(wanted: &Wanted, violations: &[Violation]) -> Refusal {
    let details: Vec<String> =
        violations.iter().map(|violation| format!("{}: {}", violation.pointer, violation.detail)).collect();
    Refusal::Conflict {
        detail: format!(
            "version {} of the fault catalogue does not fit version {} of the model {}: {}",
            wanted.newest.catalogue,
            wanted.model_version,
            wanted.model,
            details.join("; ")
        ),
    }
}
