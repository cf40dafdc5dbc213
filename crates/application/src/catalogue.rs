//! The catalogue: lists, models, procedures, faults, each version once and for ever.

mod create_fault_catalogue;
mod create_model;
mod create_procedure;
mod create_term;
mod install;
mod read;
pub(crate) mod references;

pub use create_fault_catalogue::CreateFaultCatalogue;
pub use create_model::CreateModel;
pub use create_procedure::CreateProcedure;
pub use create_term::CreateTerm;
pub use install::{Installed, install_built_in};
pub use read::{
    DraftModel, Entry, GetFault, GetFaultCatalogue, GetFaultCatalogueVersion, GetFaultVersion, GetModel,
    GetModelVersion, GetProcedure, GetProcedureVersion, ListFaults, ListModels, ListProcedures, ListTerms,
    NamedList, ShownProcedure,
};
pub use store::catalogue::Kept;
pub use store::fault_catalogue::KeptFault;
pub use store::term::{Term, TermList};

use domain::draft::{Draft, Plate};
use domain::violation::Violation;

use crate::refusal::{Fault, Refusal};

/// A machine's entries from its plate; nothing is stored.
pub fn draft(plate: &Plate) -> Result<Draft, Refusal> {
    Draft::of(plate).map_err(invalid)
}

fn refuse(violations: Vec<Violation>) -> Result<(), Refusal> {
    if violations.is_empty() { Ok(()) } else { Err(invalid(violations)) }
}

fn invalid(violations: Vec<Violation>) -> Refusal {
    let faults = violations.into_iter().map(|violation| Fault::at(violation.pointer, violation.detail));
    Refusal::Invalid(faults.collect())
}

/// Versions of a key are counted without gaps, so that nobody takes a number that nobody else expects.
fn follows_on(version: u32, newest_below: u32) -> Option<Violation> {
    let due = newest_below + 1;
    (version != due).then(|| Violation {
        pointer: "/version".into(),
        detail: format!("the next version of this key is {due}"),
    })
}
