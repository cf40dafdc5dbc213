use store::part::{self, NewPart, Part};
use store::{Change, UnitOfWork};

use super::fits;
use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes a part into the catalogue.
pub struct CreatePart(pub NewPart);

impl UseCase for CreatePart {
    const NAME: &'static str = "create_part";
    type Outcome = Created<Part>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        fits::check(unit, &new.fits).await?;
        let creation = part::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "part")?;
        if is_new {
            unit.record(Change::of("part.created", new.id));
        }
        let item = written(part::get(unit, new.id).await?, "part")?;
        Ok(Created { item, is_new })
    }
}
