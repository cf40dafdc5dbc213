//! Everything that somebody needs who stands before the machine.

use std::collections::BTreeSet;
use std::sync::Arc;

use domain::evidence::TestRun;
use domain::id::VisitId;
use domain::procedure::Procedure;
use store::visit::{self, Visit};
use store::{site, test_run, work_order};

use crate::see_order::{KnownOrder, OrderFile, SeeOrder};
use crate::{Application, Caller, Question, Refusal};

pub use store::interlock_defeat::{InterlockDefeat, NewInterlockDefeat, SecondPerson};
pub use store::{action_taken::NewActionTaken, finding::NewFinding};

/// A visit with its order and all that can be tested on its machine.
#[derive(Debug, Clone, Copy)]
pub struct SeeVisit(pub VisitId);

#[derive(Debug)]
pub struct VisitFile {
    pub visit: Visit,
    pub file: OrderFile,
    /// The newest version of each procedure that has something to say about the machine, as they are shown to whoever stands
    /// before it; the company's own among them, by title.
    pub procedures: Vec<Procedure>,
    /// What was read on the order so far, in the order in which it was taken, corrected runs left out.
    pub runs: Vec<TestRun>,
}

impl Question for SeeVisit {
    const NAME: &'static str = "see_visit";
    type Answer = VisitFile;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<VisitFile, Refusal> {
        let (database, scope, versions) =
            (application.database(), caller.read_scope(), application.versions());
        let missing = || Refusal::NotFound { what: "visit" };
        let visit = visit::find(database, &scope, self.0).await?.ok_or_else(missing)?;
        let order = work_order::find(database, &scope, visit.work_order).await?.ok_or_else(missing)?;
        let file = application.ask(caller, SeeOrder { number: order.number, epoch: None }).await?;
        let model = file.model.as_deref();
        let all = versions.all_procedures().await?;
        let applies = |procedure: &&Arc<Procedure>| model.is_some_and(|model| procedure.applies_to(model));
        let mut procedures: Vec<Procedure> =
            all.iter().filter(applies).map(|procedure| procedure.shown(model)).collect();
        procedures.sort_by(|one, other| one.title.as_str().cmp(other.title.as_str()));
        let stored = test_run::of_order(database, order.id).await?;
        let runs: Vec<TestRun> = stored.into_iter().map(|stored| stored.run).collect();
        let standing: BTreeSet<_> = domain::evidence::current(&runs).iter().map(|run| run.id).collect();
        Ok(VisitFile {
            runs: runs.into_iter().filter(|run| standing.contains(&run.id)).collect(),
            visit,
            file,
            procedures,
        })
    }
}

/// Which order a visit belongs to.
#[derive(Debug, Clone, Copy)]
pub struct OrderOfVisit(pub VisitId);

impl Question for OrderOfVisit {
    const NAME: &'static str = "see_visit";
    type Answer = KnownOrder;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<KnownOrder, Refusal> {
        let (database, scope) = (application.database(), caller.read_scope());
        let missing = || Refusal::NotFound { what: "visit" };
        let visit = visit::find(database, &scope, self.0).await?.ok_or_else(missing)?;
        let order = work_order::find(database, &scope, visit.work_order).await?.ok_or_else(missing)?;
        let site = site::find(database, &scope, order.site).await?.ok_or_else(missing)?;
        Ok(KnownOrder { id: order.id, site: site.id, time_zone: site.time_zone.to_string() })
    }
}
