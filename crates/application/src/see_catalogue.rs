//! The catalogue: which machines are known, how they are tested, what can be wrong with them.

use std::sync::Arc;

use domain::equipment::{FaultCatalogue, Model};
use domain::procedure::Procedure;
use domain::text::Key;
use store::catalogue;
use store::fault_catalogue;

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
        let missing = || Refusal::NotFound { what: "model" };
        let newest = catalogue::model::find(database, self.key.as_str(), None).await?.ok_or_else(missing)?;
        let count = newest.entry.version;
        let kept = match self.version {
            Some(version) if version != count => {
                let kept = catalogue::model::find(database, self.key.as_str(), Some(version)).await?;
                kept.ok_or_else(missing)?
            }
            _ => newest,
        };
        let mut procedures = application.versions().all_procedures().await?;
        procedures.retain(|procedure| procedure.applies_to(&kept.entry));
        procedures.sort_by(|one, other| one.title.as_str().cmp(other.title.as_str()));
        let faults = fault_catalogue::find(database, self.key.as_str(), None).await?;
        Ok(ModelEntry { model: Versioned { kept, newest: count }, faults, procedures })
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
        let (database, key) = (application.database(), self.key.as_str());
        let missing = || Refusal::NotFound { what: "procedure" };
        let newest = catalogue::procedure::find(database, key, None).await?.ok_or_else(missing)?;
        let count = newest.entry.version;
        let kept = match self.version {
            Some(version) if version != count => {
                catalogue::procedure::find(database, key, Some(version)).await?.ok_or_else(missing)?
            }
            _ => newest,
        };
        Ok(Versioned { kept, newest: count })
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
        let (database, model) = (application.database(), self.model.as_str());
        let missing = || Refusal::NotFound { what: "catalogue of faults" };
        let newest = fault_catalogue::find(database, model, None).await?.ok_or_else(missing)?;
        let count = newest.entry.version;
        let kept = match self.version {
            Some(version) if version != count => {
                fault_catalogue::find(database, model, Some(version)).await?.ok_or_else(missing)?
            }
            _ => newest,
        };
        Ok(Versioned { kept, newest: count })
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
