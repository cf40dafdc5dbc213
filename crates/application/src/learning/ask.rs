use store::learning::{self, Learning, NewLearning};
use store::{Change, UnitOfWork};

use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Asks for a new knowledge version, learned as of a time. One at a time.
pub struct CreateKnowledgeVersion(pub NewLearning);

impl UseCase for CreateKnowledgeVersion {
    const NAME: &'static str = "create_knowledge_version";
    type Outcome = Created<Learning>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        if new.as_of > unit.now() {
            return Err(Refusal::invalid("/as_of", "lies in the future; learn as of now or an earlier time"));
        }
        let creation = learning::insert(unit, &new, caller.principal.person, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "knowledge version")?;
        if is_new {
            unit.record(Change::of("knowledge_version.asked", new.id));
        }
        let item = written(learning::get(unit, new.id).await?, "knowledge version")?;
        Ok(Created { item, is_new })
    }
}
