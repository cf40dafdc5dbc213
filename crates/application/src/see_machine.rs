//! A machine: does it drift, what is in it, what happened to it?

use domain::id::ApplianceId;
use domain::time::Timestamp;
use store::PageRequest;
use store::appliance::{self, Appliance};
use store::fitted_part;
use store::history;
use store::site::{self, Site};
use store::stop::{self, Stop};
use store::today::Filter;

pub use store::fitted_part::FittedPart;
pub use store::history::HistoryEntry;

use crate::drift::{self, Drift};
use crate::today::{Line, open_lines};
use crate::{Application, Caller, Question, Refusal};

/// A machine with its past.
#[derive(Debug, Clone, Copy)]
pub struct SeeMachine(pub ApplianceId);

#[derive(Debug)]
pub struct MachineFile {
    pub now: Timestamp,
    pub appliance: Appliance,
    pub model_title: String,
    pub site: Site,
    pub stops: Vec<Stop>,
    pub open: Vec<Line>,
    /// In their positions now.
    pub parts: Vec<FittedPart>,
    /// How each of its readings went over time; none before anything was read.
    pub drift: Option<Drift>,
    /// Newest first.
    pub history: Vec<HistoryEntry>,
}

const PAST: PageRequest = PageRequest { after: None, oldest_first: false, limit: 100 };

impl Question for SeeMachine {
    const NAME: &'static str = "see_machine";
    type Answer = MachineFile;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<MachineFile, Refusal> {
        let (database, scope, now) = (application.database(), caller.read_scope(), application.now());
        let missing = || Refusal::NotFound { what: "machine" };
        let appliance = appliance::find(database, &scope, self.0).await?.ok_or_else(missing)?;
        let model = application.versions().model(appliance.model.as_str(), appliance.model_version).await?;
        let filter = Filter { appliance: Some(self.0), ..Filter::default() };
        let past = history::of_appliance(database, &scope, self.0, None, now, &PAST).await?;
        let parts = fitted_part::of_appliance(database, self.0).await?;
        Ok(MachineFile {
            now,
            model_title: model.map_or_else(|| appliance.model.to_string(), |model| model.title.to_string()),
            site: site::find(database, &scope, appliance.site).await?.ok_or_else(missing)?,
            stops: stop::of_appliance(database, self.0).await?,
            open: open_lines(application, &filter).await?,
            parts: parts.into_iter().filter(|part| part.removed_at.is_none()).collect(),
            drift: drift::of_appliance(application, &scope, self.0, now, None).await?,
            history: past.map(|page| page.items).unwrap_or_default(),
            appliance,
        })
    }
}
