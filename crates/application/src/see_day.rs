//! Somebody's own visits of today and tomorrow.

use domain::time::Timestamp;
use store::interlock_defeat;
use store::visit::{self, OF_A_DAY, Visit};

use crate::see_order::{OrderFile, SeeOrder};
use crate::{Application, Caller, Question, Refusal};

/// Where the caller is sent today and tomorrow.
#[derive(Debug, Clone, Copy)]
pub struct SeeDay;

/// The caller's visits in the order of their planned times.
#[derive(Debug)]
pub struct Day {
    pub now: Timestamp,
    pub visits: Vec<VisitOfDay>,
    /// Whether there are more than are shown.
    pub is_cut: bool,
}

/// A visit and the order that it belongs to.
#[derive(Debug)]
pub struct VisitOfDay {
    pub visit: Visit,
    pub file: OrderFile,
    /// Whether an interlock of its machine is defeated and nobody has recorded its removal.
    pub is_interlock_defeated: bool,
}

impl Question for SeeDay {
    const NAME: &'static str = "see_day";
    type Answer = Day;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Day, Refusal> {
        let now = application.now();
        let mut of_day = visit::of_day(application.database(), caller.principal.person, now).await?;
        let is_cut = of_day.len() > usize::from(OF_A_DAY);
        of_day.truncate(usize::from(OF_A_DAY));
        let mut visits = Vec::with_capacity(of_day.len());
        for (id, number) in of_day {
            let file = application.ask(caller, SeeOrder { number, epoch: None }).await?;
            // Whoever was taken off it at this moment does not see it any more.
            let Some(visit) = file.visits.iter().find(|visit| visit.id == id).cloned() else { continue };
            let defeats = interlock_defeat::of_order(application.database(), file.order.id).await?;
            let is_interlock_defeated = defeats.iter().any(|defeat| defeat.removed_at.is_none());
            visits.push(VisitOfDay { visit, file, is_interlock_defeated });
        }
        Ok(Day { now, visits, is_cut })
    }
}
