use domain::equipment::FaultCatalogue;
use store::catalogue::{self, Kept, NewVersion};
use store::fault_catalogue::{self, NewFault};
use store::{Change, Creation, UnitOfWork};

use super::{follows_on, references, refuse};
use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes a version of a model's catalogue of faults in.
pub struct CreateFaultCatalogue(pub FaultCatalogue);

impl UseCase for CreateFaultCatalogue {
    const NAME: &'static str = "create_fault_catalogue";
    type Outcome = Created<Kept<FaultCatalogue>>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let faults = self.0;
        let (model, version) = (faults.model.clone(), faults.version);
        let creation = insert(unit, &faults, false).await?;
        if creation == Creation::Created {
            let procedures = catalogue::procedure::newest_by_key(unit).await?;
            let mut violations = match catalogue::model::newest_of(unit, model.as_str()).await? {
                Some(of) => faults.validate(&of.entry).err().unwrap_or_default(),
                None => vec![references::no_model(&model)],
            };
            violations.extend(references::of_faults(&faults, &procedures));
            let newest_below = fault_catalogue::newest_below(unit, model.as_str(), version).await?;
            violations.extend(follows_on(version, newest_below));
            let kept = fault_catalogue::fault_hashes(unit, model.as_str()).await?;
            let new = new_faults(&faults)?;
            violations.extend(references::of_fault_versions(&new, &kept));
            refuse(violations)?;
            fault_catalogue::insert_faults(unit, model.as_str(), &new).await?;
        }
        let is_new = is_new(creation, "version of the model's fault catalogue")?;
        if is_new {
            record(unit, &faults);
        }
        let kept = fault_catalogue::get(unit, model.as_str(), Some(version)).await?;
        Ok(Created { item: written(kept, "fault catalogue")?, is_new })
    }
}

pub(super) fn record(unit: &mut UnitOfWork, faults: &FaultCatalogue) {
    let subject = unit.next_id();
    let name = format!("{} version {}", faults.model, faults.version);
    unit.record(Change::of("fault_catalogue.created", subject).because(name));
}

pub(super) async fn insert(
    unit: &mut UnitOfWork,
    faults: &FaultCatalogue,
    built_in: bool,
) -> Result<Creation, Refusal> {
    let new = NewVersion {
        key: faults.model.as_str(),
        version: faults.version,
        payload: &serde_json::to_value(faults).map_err(|error| Refusal::Internal(error.to_string()))?,
        body_sha256: &body_sha256(faults)?,
        built_in,
    };
    Ok(fault_catalogue::insert(unit, &new).await?)
}

/// The faults of a catalogue as they are kept one by one.
pub(super) fn new_faults(faults: &FaultCatalogue) -> Result<Vec<NewFault>, Refusal> {
    let new = faults.faults.iter().map(|fault| {
        Ok(NewFault {
            key: fault.key.clone(),
            version: fault.version,
            position: fault.position.key(),
            payload: serde_json::to_value(fault).map_err(|error| Refusal::Internal(error.to_string()))?,
            body_sha256: body_sha256(fault)?,
        })
    });
    new.collect()
}
