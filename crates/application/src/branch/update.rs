use domain::id::BranchId;
use domain::text::Name;
use store::branch::{self, Branch};
use store::{Change, UnitOfWork};

use crate::{Caller, Refusal, UseCase};

/// Changes some fields of a branch. An absent field stays.
pub struct UpdateBranch {
    pub id: BranchId,
    pub expected_version: i64,
    pub name: Option<Name>,
}

impl UseCase for UpdateBranch {
    const NAME: &'static str = "update_branch";
    type Outcome = Branch;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Branch, Refusal> {
        let missing = Refusal::NotFound { what: "branch" };
        let mut branch = branch::get(unit, self.id).await?.ok_or(missing)?;
        let mut changed = Vec::new();
        if let Some(name) = self.name {
            branch.name = name;
            changed.push("name");
        }
        if !branch::update(unit, &branch, self.expected_version).await? {
            return Err(Refusal::Stale { what: "branch", current: branch.version });
        }
        unit.record(Change::of("branch.changed", self.id).fields(changed));
        branch.version = self.expected_version + 1;
        Ok(branch)
    }
}
