//! The catalogue: which machines are known, how they are tested, what can be wrong with them.

use std::sync::Arc;

use domain::equipment::{FaultCatalogue, Model};
use domain::procedure::Procedure;
use domain::text::Key;
use store::{StoreError, catalogue, fault_catalogue};

pub use domain::draft::{Draft, Plate, PlateHeater};
pub use store::catalogue::Kept;

use crate::{Application, Caller, Question, Refusal};

/// The newest version of everything.
#[derive(Debug, Clone, Copy)]
pub struct SeeCatalogue;

#[derive(Debug)]
pub struct Catalogue {
    pub models: Vec<Kept<Model>>,
    pub procedures: Vec<Kept<Procedure>>,
    pub faults: Vec<Kept<FaultCatalogue>>,
}

impl Question for SeeCatalogue {
    const NAME: &'static str = "see_catalogue";
    type Answer = Catalogue;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Catalogue, Refusal> {
        let database = application.database();
        Ok(Catalogue {
            models: catalogue::model::newest(database, None).await?,
            procedures: catalogue::procedure::newest(database, None).await?,
            faults: fault_catalogue::newest(database, None).await?,
        })
    }
}

/// A version, and how many there are: they are counted without gaps.
#[derive(Debug)]
pub struct Versioned<T> {
    pub kept: Kept<T>,
    pub newest: u32,
}

/// The version that is asked for, the newest unless one is; `number` says which one an entry is.
async fn version_of<T, Found>(
    what: &'static str,
    asked: Option<u32>,
    number: fn(&T) -> u32,
    find: impl Fn(Option<u32>) -> Found,
) -> Result<Versioned<T>, Refusal>
where
    Found: Future<Output = Result<Option<Kept<T>>, StoreError>>,
{
    let missing = || Refusal::NotFound { what };
    let newest = find(None).await?.ok_or_else(missing)?;
    let count = number(&newest.entry);
    let kept = match asked {
        Some(version) if version != count => find(Some(version)).await?.ok_or_else(missing)?,
        _ => newest,
    };
    Ok(Versioned { kept, newest: count })
}

/// A version of a model, the newest unless one is named.
#[derive(Debug, Clone)]
pub struct SeeModel {
    pub key: Key,
    pub version: Option<u32>,
}

#[derive(Debug)]
pub struct ModelEntry {
    pub model: Versioned<Model>,
    /// The newest of its faults.
    pub faults: Option<Kept<FaultCatalogue>>,
    /// What has something to say about it.
    pub procedures: Vec<Arc<Procedure>>,
}

impl Question for SeeModel {
    const NAME: &'static str = "see_catalogue";
    type Answer = ModelEntry;

    async fn answer(self, application: &Application, _: &Caller) -> Result<ModelEntry, Refusal> {
        let database = application.database();
        let find = |version| catalogue::model::find(database, self.key.as_str(), version);
        let model = version_of("model", self.version, |model: &Model| model.version, find).await?;
        let mut procedures = application.versions().all_procedures().await?;
        procedures.retain(|procedure| procedure.applies_to(&model.kept.entry));
        procedures.sort_by(|one, other| one.title.as_str().cmp(other.title.as_str()));
        let faults = fault_catalogue::find(database, self.key.as_str(), None).await?;
        Ok(ModelEntry { model, faults, procedures })
    }
}

/// A version of a procedure, the newest unless one is named.
#[derive(Debug, Clone)]
pub struct SeeProcedure {
    pub key: Key,
    pub version: Option<u32>,
}

impl Question for SeeProcedure {
    const NAME: &'static str = "see_catalogue";
    type Answer = Versioned<Procedure>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Versioned<Procedure>, Refusal> {
        let find = |version| catalogue::procedure::find(application.database(), self.key.as_str(), version);
        version_of("procedure", self.version, |procedure: &Procedure| procedure.version, find).await
    }
}

/// A version of what can be wrong with a model, the newest unless one is named.
#[derive(Debug, Clone)]
pub struct SeeFaults {
    pub model: Key,
    pub version: Option<u32>,
}

impl Question for SeeFaults {
    const NAME: &'static str = "see_catalogue";
    type Answer = Versioned<FaultCatalogue>;

    async fn answer(
        self,
        application: &Application,
        _: &Caller,
    ) -> Result<Versioned<FaultCatalogue>, Refusal> {
        let find = |version| fault_catalogue::find(application.database(), self.model.as_str(), version);
        version_of("catalogue of faults", self.version, |faults: &FaultCatalogue| faults.version, find).await
    }
}

/// A machine from its plate; nothing is stored.
#[derive(Debug, Clone)]
pub struct DraftModel(pub Plate);

impl Question for DraftModel {
    const NAME: &'static str = "draft_model";
    type Answer = Draft;

    async fn answer(self, _: &Application, _: &Caller) -> Result<Draft, Refusal> {
        crate::catalogue::draft(&self.0)
    }
}
