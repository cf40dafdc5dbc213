use domain::equipment::Model;
use store::catalogue::{self, Kept, NewVersion};
use store::{Change, Creation, UnitOfWork};

use super::{follows_on, references, refuse};
use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes a version of a model into the catalogue.
pub struct CreateModel(pub Model);

impl UseCase for CreateModel {
    const NAME: &'static str = "create_model";
    type Outcome = Created<Kept<Model>>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let model = self.0;
        let (key, version) = (model.key.as_str(), model.version);
        let new = NewVersion {
            key,
            version,
            payload: &serde_json::to_value(&model).map_err(|error| Refusal::Internal(error.to_string()))?,
            body_sha256: &body_sha256(&model)?,
            built_in: false,
        };
        let creation = catalogue::model::insert(unit, &new).await?;
        if creation == Creation::Created {
            let mut violations = model.validate().err().unwrap_or_default();
            violations
                .extend(references::of_model(&model, &catalogue::procedure::newest_by_key(unit).await?));
            let newest_below = catalogue::model::newest_below(unit, key, version).await?;
            violations.extend(follows_on(version, newest_below));
            refuse(violations)?;
        }
        let is_new = is_new(creation, "model version")?;
        if is_new {
            let subject = unit.next_id();
            unit.record(Change::of("model.created", subject).because(format!("{key} version {version}")));
        }
        let item = written(catalogue::model::get(unit, key, version).await?, "model")?;
        Ok(Created { item, is_new })
    }
}
