use domain::procedure::Procedure;
use store::catalogue::{self, Kept, NewVersion};
use store::{Change, Creation, UnitOfWork};

use super::{follows_on, references, refuse};
use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes a version of a test procedure into the catalogue.
pub struct CreateProcedure(pub Procedure);

impl UseCase for CreateProcedure {
    const NAME: &'static str = "create_procedure";
    type Outcome = Created<Kept<Procedure>>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let procedure = self.0;
        let (key, version) = (procedure.key.as_str(), procedure.version);
        let new = NewVersion {
            key,
            version,
            payload: &serde_json::to_value(&procedure)
                .map_err(|error| Refusal::Internal(error.to_string()))?,
            body_sha256: &body_sha256(&procedure)?,
            built_in: false,
        };
        let creation = catalogue::procedure::insert(unit, &new).await?;
        if creation == Creation::Created {
            let mut violations = procedure.validate().err().unwrap_or_default();
            violations.extend(references::of_procedure(
                &procedure,
                &catalogue::procedure::newest_by_key(unit).await?,
            ));
            let newest_below = catalogue::procedure::newest_below(unit, key, version).await?;
            violations.extend(follows_on(version, newest_below));
            refuse(violations)?;
        }
        let is_new = is_new(creation, "procedure version")?;
        if is_new {
            let subject = unit.next_id();
            unit.record(Change::of("procedure.created", subject).because(format!("{key} version {version}")));
        }
        let item = written(catalogue::procedure::get(unit, key, version).await?, "procedure")?;
        Ok(Created { item, is_new })
    }
}
