//! A kitchen: why does it call again?

use chrono::TimeDelta;
use domain::id::SiteId;
use domain::text::Key;
use domain::time::Timestamp;
use store::PageRequest;
use store::appliance::{self, ApplianceFilter};
use store::contact;
use store::fitted_part;
use store::site;
use store::today::{self, Filter};
use store::work_order;

pub use store::appliance::Appliance;
pub use store::contact::Contact;
pub use store::site::Site;
pub use store::work_order::WorkOrder;

use crate::repeats::{KitchenRepeats, Window, of_kitchen};
use crate::today::{Line, StoppedMachine, open_lines};
use crate::{Application, Caller, Question, Refusal};

/// A kitchen with what stands in it.
#[derive(Debug, Clone, Copy)]
pub struct SeeKitchen(pub SiteId);

#[derive(Debug)]
pub struct KitchenFile {
    pub now: Timestamp,
    pub site: Site,
    pub contacts: Vec<Contact>,
    /// Each with the title of its model; those that were taken out too.
    pub machines: Vec<(Appliance, String)>,
    /// In which a part is known that stands there now.
    pub positions: Vec<Key>,
    /// Newest first; the newest fifty.
    pub orders: Vec<WorkOrder>,
    /// Its failures of the year that ended yesterday, beside those expected.
    pub repeats: KitchenRepeats,
    /// Corrective orders of the last twelve months.
    pub calls_in_a_year: usize,
    pub stopped: Vec<StoppedMachine>,
    pub open: Vec<Line>,
}

/// What a page of a kitchen shows at most.
const MOST: PageRequest = PageRequest { after: None, oldest_first: true, limit: 200 };

impl Question for SeeKitchen {
    const NAME: &'static str = "see_kitchen";
    type Answer = KitchenFile;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<KitchenFile, Refusal> {
        let (database, scope, now) = (application.database(), caller.read_scope(), application.now());
        let missing = Refusal::NotFound { what: "kitchen" };
        let site = site::find(database, &scope, self.0).await?.ok_or(missing)?;
        let filter = ApplianceFilter { site: Some(self.0), ..ApplianceFilter::default() };
        let machines = appliance::list(database, &scope, &filter, &MOST).await?.items;
        let mut titled = Vec::with_capacity(machines.len());
        for machine in machines {
            let model = application.versions().model(machine.model.as_str(), machine.model_version).await?;
            let title = model.map_or_else(|| machine.model.to_string(), |model| model.title.to_string());
            titled.push((machine, title));
        }
        let orders = work_order::at_site(database, self.0).await?;
        let a_year_ago = now.instant() - TimeDelta::days(365);
        let is_call = |order: &&WorkOrder| {
            order.kind == domain::work::OrderKind::Corrective && order.received_at.instant() > a_year_ago
        };
        let open = open_lines(application, &Filter { site: Some(self.0), ..Filter::default() }).await?;
        let stopped = today::stopped_machines(database, None).await?;
        let a_year = Window::of(None, None, now).map_err(|fault| Refusal::Internal(fault.to_string()))?;
        Ok(KitchenFile {
            now,
            repeats: of_kitchen(application, self.0, a_year).await?,
            contacts: contact::list(database, None, Some(self.0), None, &MOST).await?.items,
            machines: titled,
            positions: fitted_part::positions_at(database, self.0).await?,
            calls_in_a_year: orders.iter().filter(is_call).count(),
            orders,
            stopped: stopped.into_iter().filter(|machine| machine.site == self.0).collect(),
            open,
            site,
        })
    }
}
