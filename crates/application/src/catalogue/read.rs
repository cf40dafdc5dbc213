//! What the catalogue holds: models, procedures, faults, and the lists of words.

use domain::draft::{Draft, Plate};
use domain::equipment::{FaultCatalogue, Model};
use domain::procedure::Procedure;
use domain::text::Key;
use domain::vocabulary;
use store::catalogue::{self, Kept};
use store::fault_catalogue::{self, KeptFault};
use store::term::{self, Term, TermList};

use super::draft;
use crate::{Application, Caller, Question, Refusal};

/// One version of what is kept by key: the newest unless said.
#[derive(Debug, Clone)]
pub struct Entry {
    pub key: Key,
    pub version: Option<u32>,
}

/// The newest version of each model.
#[derive(Debug, Clone)]
pub struct ListModels {
    /// Part of key or title.
    pub search: Option<String>,
}

impl Question for ListModels {
    const NAME: &'static str = "list_models";
    type Answer = Vec<Kept<Model>>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Vec<Kept<Model>>, Refusal> {
        Ok(catalogue::model::newest(application.database(), self.search.as_deref()).await?)
    }
}

/// The newest version of each procedure.
#[derive(Debug, Clone)]
pub struct ListProcedures {
    /// Part of key or title.
    pub search: Option<String>,
}

impl Question for ListProcedures {
    const NAME: &'static str = "list_procedures";
    type Answer = Vec<Kept<Procedure>>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Vec<Kept<Procedure>>, Refusal> {
        Ok(catalogue::procedure::newest(application.database(), self.search.as_deref()).await?)
    }
}

/// The newest version of a model.
#[derive(Debug, Clone)]
pub struct GetModel(pub Entry);

impl Question for GetModel {
    const NAME: &'static str = "get_model";
    type Answer = Kept<Model>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Kept<Model>, Refusal> {
        model(application, &self.0).await
    }
}

/// A version of a model.
#[derive(Debug, Clone)]
pub struct GetModelVersion(pub Entry);

impl Question for GetModelVersion {
    const NAME: &'static str = "get_model_version";
    type Answer = Kept<Model>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Kept<Model>, Refusal> {
        model(application, &self.0).await
    }
}

/// The newest version of a model's catalogue of faults.
#[derive(Debug, Clone)]
pub struct GetFaultCatalogue(pub Entry);

impl Question for GetFaultCatalogue {
    const NAME: &'static str = "get_fault_catalogue";
    type Answer = Kept<FaultCatalogue>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Kept<FaultCatalogue>, Refusal> {
        faults_of(application, &self.0).await
    }
}

/// A version of a model's catalogue of faults.
#[derive(Debug, Clone)]
pub struct GetFaultCatalogueVersion(pub Entry);

impl Question for GetFaultCatalogueVersion {
    const NAME: &'static str = "get_fault_catalogue_version";
    type Answer = Kept<FaultCatalogue>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Kept<FaultCatalogue>, Refusal> {
        faults_of(application, &self.0).await
    }
}

async fn model(application: &Application, entry: &Entry) -> Result<Kept<Model>, Refusal> {
    let found = catalogue::model::find(application.database(), entry.key.as_str(), entry.version).await?;
    found.ok_or(Refusal::NotFound { what: "model" })
}

async fn faults_of(application: &Application, entry: &Entry) -> Result<Kept<FaultCatalogue>, Refusal> {
    let found = fault_catalogue::find(application.database(), entry.key.as_str(), entry.version).await?;
    found.ok_or(Refusal::NotFound { what: "fault catalogue" })
}

/// A procedure, and the model that it is to be shown for.
#[derive(Debug)]
pub struct ShownProcedure {
    pub kept: Kept<Procedure>,
    pub model: Option<Model>,
}

/// The newest version of a procedure.
#[derive(Debug, Clone)]
pub struct GetProcedure {
    pub entry: Entry,
    /// Shown as it is done on this model.
    pub model: Option<Key>,
}

impl Question for GetProcedure {
    const NAME: &'static str = "get_procedure";
    type Answer = ShownProcedure;

    async fn answer(self, application: &Application, _: &Caller) -> Result<ShownProcedure, Refusal> {
        procedure(application, &self.entry, self.model).await
    }
}

/// A version of a procedure.
#[derive(Debug, Clone)]
pub struct GetProcedureVersion {
    pub entry: Entry,
    /// Shown as it is done on this model.
    pub model: Option<Key>,
}

impl Question for GetProcedureVersion {
    const NAME: &'static str = "get_procedure_version";
    type Answer = ShownProcedure;

    async fn answer(self, application: &Application, _: &Caller) -> Result<ShownProcedure, Refusal> {
        procedure(application, &self.entry, self.model).await
    }
}

async fn procedure(
    application: &Application,
    entry: &Entry,
    shown_for: Option<Key>,
) -> Result<ShownProcedure, Refusal> {
    let found = catalogue::procedure::find(application.database(), entry.key.as_str(), entry.version).await?;
    let kept = found.ok_or(Refusal::NotFound { what: "procedure" })?;
    let model = match shown_for {
        Some(key) => Some(model(application, &Entry { key, version: None }).await?.entry),
        None => None,
    };
    Ok(ShownProcedure { kept, model })
}

/// The newest catalogues of faults.
#[derive(Debug, Clone)]
pub struct ListFaults {
    /// Of this model alone.
    pub model: Option<Key>,
}

impl Question for ListFaults {
    const NAME: &'static str = "list_faults";
    type Answer = Vec<Kept<FaultCatalogue>>;

    async fn answer(
        self,
        application: &Application,
        _: &Caller,
    ) -> Result<Vec<Kept<FaultCatalogue>>, Refusal> {
        let model = self.model.as_ref().map(Key::as_str);
        Ok(fault_catalogue::newest(application.database(), model).await?)
    }
}

/// The newest version of a fault.
#[derive(Debug, Clone)]
pub struct GetFault {
    pub model: Key,
    pub entry: Entry,
}

impl Question for GetFault {
    const NAME: &'static str = "get_fault";
    type Answer = KeptFault;

    async fn answer(self, application: &Application, _: &Caller) -> Result<KeptFault, Refusal> {
        fault(application, &self.model, &self.entry).await
    }
}

/// A version of a fault.
#[derive(Debug, Clone)]
pub struct GetFaultVersion {
    pub model: Key,
    pub entry: Entry,
}

impl Question for GetFaultVersion {
    const NAME: &'static str = "get_fault_version";
    type Answer = KeptFault;

    async fn answer(self, application: &Application, _: &Caller) -> Result<KeptFault, Refusal> {
        fault(application, &self.model, &self.entry).await
    }
}

async fn fault(application: &Application, model: &Key, entry: &Entry) -> Result<KeptFault, Refusal> {
    let (database, key) = (application.database(), entry.key.as_str());
    let found = fault_catalogue::find_fault(database, model, key, entry.version).await?;
    found.ok_or(Refusal::NotFound { what: "fault" })
}

/// A machine and its faults, drafted from what its plate says; nothing of it is kept.
#[derive(Debug)]
pub struct DraftModel(pub Plate);

impl Question for DraftModel {
    const NAME: &'static str = "draft_model";
    type Answer = Draft;

    async fn answer(self, _: &Application, _: &Caller) -> Result<Draft, Refusal> {
        draft(&self.0)
    }
}

/// The lists of words that the interface and the pages speak in.
#[derive(Debug, Clone, Copy)]
pub struct ListTerms;

/// A list of words, the company's own among them.
#[derive(Debug)]
pub struct NamedList {
    pub name: &'static str,
    pub may_be_extended: bool,
    pub terms: Vec<Term>,
}

impl Question for ListTerms {
    const NAME: &'static str = "list_terms";
    type Answer = Vec<NamedList>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Vec<NamedList>, Refusal> {
        let mut lists = Vec::new();
        for list in vocabulary::lists() {
            let terms = match list.name.parse::<TermList>() {
                Ok(kept) => term::all(application.database(), kept).await?,
                Err(_) => list.terms.iter().map(built_in).collect(),
            };
            lists.push(NamedList { name: list.name, may_be_extended: list.may_be_extended, terms });
        }
        Ok(lists)
    }
}

/// A word of a list that no company extends.
fn built_in(term: &vocabulary::Term) -> Term {
    Term { key: term.key.to_owned(), description: Some(term.description.to_owned()), built_in: true }
}
