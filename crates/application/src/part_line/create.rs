use store::part_line::{self, NewPartLine, PartLine};
use store::{UnitOfWork, part};

use super::fits::{require_fitting, require_right};
use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::hold;
use crate::{Caller, Created, Refusal, UseCase};

/// Notes a part that an order needs.
pub struct CreatePartLine(pub NewPartLine);

impl UseCase for CreatePartLine {
    const NAME: &'static str = "create_part_line";
    type Outcome = Created<PartLine>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold(unit, caller, new.work_order).await?;
        if part::get(unit, new.part).await?.is_none() {
            return Err(Refusal::invalid("/part_id", "no part has this id"));
        }
        require_right(caller, new.fit_override.as_ref())?;
        let creation = part_line::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "part line")?;
        if is_new {
            held.require_open()?;
            let word = new.fit_override.as_ref();
            require_fitting(unit, &held.order, new.part, new.position.as_ref(), word).await?;
            unit.record(held.change("part_line.identified", new.id));
        }
        let item = written(part_line::get(unit, new.id).await?, "part line")?;
        Ok(Created { item, is_new })
    }
}
