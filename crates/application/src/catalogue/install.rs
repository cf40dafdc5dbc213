use domain::equipment::{built_in_fault_catalogues, built_in_models};
use domain::procedure::built_in_procedures;
use domain::vocabulary;
use serde::Serialize;
use store::catalogue::{self, NewVersion};
use store::term::{self, TermList};
use store::{Change, Creation, UnitOfWork, fault_catalogue};

use super::create_fault_catalogue as faults;
use crate::use_case::body_sha256;
use crate::{Application, Refusal};

/// What an installation of the built-in catalogue came to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Installed {
    /// Terms and versions that were not there.
    pub added: u64,
    /// Versions that are there with other content, and were left as they are.
    pub left: Vec<String>,
}

/// Brings the lists, models, procedures and faults that come with the service into the database. Safe to
/// repeat: what is there stays, because a version never changes.
pub async fn install_built_in(application: &Application) -> Result<Installed, Refusal> {
    let mut unit = application.begin_alone("install_catalogue").await?;
    let mut installed = Installed::default();
    for list in TermList::ALL {
        let terms = vocabulary::lists().into_iter().find(|built_in| built_in.name == list.word());
        let terms = terms.map(|built_in| built_in.terms).unwrap_or_default();
        let keys: Vec<String> = terms.iter().map(|term| term.key.to_owned()).collect();
        let descriptions: Vec<String> = terms.iter().map(|term| term.description.to_owned()).collect();
        installed.added += term::install(&mut unit, *list, &keys, &descriptions).await?;
    }
    for procedure in built_in_procedures() {
        let version = BuiltIn::of(procedure.key.as_str(), procedure.version, procedure)?;
        let creation = catalogue::procedure::insert(&mut unit, &version.as_new_version()).await?;
        installed.note(&mut unit, "procedure.created", creation, &version);
    }
    for model in built_in_models() {
        let version = BuiltIn::of(model.key.as_str(), model.version, model)?;
        let creation = catalogue::model::insert(&mut unit, &version.as_new_version()).await?;
        installed.note(&mut unit, "model.created", creation, &version);
    }
    for catalogue in built_in_fault_catalogues() {
        let creation = faults::insert(&mut unit, catalogue, true).await?;
        match creation {
            Creation::Created => {
                let new = faults::new_faults(catalogue)?;
                fault_catalogue::insert_faults(&mut unit, catalogue.model.as_str(), &new).await?;
                faults::record(&mut unit, catalogue);
                installed.added += 1;
            }
            Creation::AlreadyThere => {}
            Creation::Differs => {
                installed.left.push(format!("faults of {} version {}", catalogue.model, catalogue.version));
            }
        }
    }
    unit.commit().await?;
    Ok(installed)
}

struct BuiltIn<'a> {
    key: &'a str,
    version: u32,
    payload: serde_json::Value,
    body_sha256: Vec<u8>,
}

impl<'a> BuiltIn<'a> {
    fn of(key: &'a str, version: u32, entry: &impl Serialize) -> Result<Self, Refusal> {
        let payload = serde_json::to_value(entry).map_err(|error| Refusal::Internal(error.to_string()))?;
        Ok(Self { key, version, payload, body_sha256: body_sha256(entry)? })
    }

    fn as_new_version(&self) -> NewVersion<'_> {
        NewVersion {
            key: self.key,
            version: self.version,
            payload: &self.payload,
            body_sha256: &self.body_sha256,
            built_in: true,
        }
    }
}

impl Installed {
    fn note(&mut self, unit: &mut UnitOfWork, kind: &'static str, creation: Creation, version: &BuiltIn<'_>) {
        let name = format!("{} version {}", version.key, version.version);
        match creation {
            Creation::Created => {
                self.added += 1;
                let subject = unit.next_id();
                unit.record(Change::of(kind, subject).because(name));
            }
            Creation::AlreadyThere => {}
            Creation::Differs => self.left.push(name),
        }
    }
}
