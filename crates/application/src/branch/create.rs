use store::branch::{self, Branch, NewBranch};
use store::{Change, UnitOfWork};

use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Opens a branch.
pub struct CreateBranch(pub NewBranch);

impl UseCase for CreateBranch {
    const NAME: &'static str = "create_branch";
    type Outcome = Created<Branch>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let creation = branch::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "branch")?;
        if is_new {
            unit.record(Change::of("branch.created", new.id));
        }
        let item = written(branch::get(unit, new.id).await?, "branch")?;
        Ok(Created { item, is_new })
    }
}
