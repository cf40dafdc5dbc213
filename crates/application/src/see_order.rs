//! Everything that an order's page says.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use domain::equipment::Model;
use domain::id::{ContactId, PersonId, SiteId, WorkOrderId};
use domain::time::Timestamp;
use domain::work::ApplianceState;
use store::PageRequest;
use store::action_taken::{self, ActionTaken};
use store::appliance::{self, Appliance, ApplianceFilter};
use store::contact::{self, Contact};
use store::diagnosis::Diagnosed;
use store::finding::{self, Finding};
use store::interlock_defeat::{self, InterlockDefeat};
use store::note::{self, Note};
use store::part::{self, FittingPart};
use store::part_line::{self, PartLine};
use store::person;
use store::quote::{self, Approval, Quote};
use store::site::{self, Site};
use store::stop::{self, Stop};
use store::term;
use store::visit::{self, Visit};
use store::waiting::{self, Waiting};
use store::waiver::{self, Waiver};
use store::work_order::{self, WorkOrder};

use crate::call::{Intake, ReadCall};
use crate::diagnosis::{self, Numbers};
use crate::today::{Promise, Wait};
use crate::verdicts::{self, Verdicts};
use crate::work_order::{ListMoves, Moves};
use crate::{Application, Caller, Question, Refusal};

pub use store::finding::Finding as StandingFinding;
pub use store::machine_correction::NewMachineCorrection;
pub use store::part::FittingPart as PartOnList;
pub use store::stop::{NewStop, Stop as StopOfUse};
pub use store::term::Choices;
pub use store::waiver::NewWaiver;

/// An order by its number, as it stands now.
#[derive(Debug, Clone, Copy)]
pub struct SeeOrder {
    pub number: i64,
    /// Of the machine's, whose readings are wanted: the current one unless another is named.
    pub epoch: Option<u32>,
}

/// An order with all that belongs to it.
#[derive(Debug)]
pub struct OrderFile {
    pub now: Timestamp,
    pub order: WorkOrder,
    pub promise: Promise,
    pub site: Site,
    pub appliance: Option<Appliance>,
    /// None while nobody knows which machine it is.
    pub model: Option<Arc<Model>>,
    /// What stands in the kitchen: the order is about one of these.
    pub machines: Vec<Appliance>,
    pub call: Option<Intake>,
    pub contact: Option<Contact>,
    pub moves: Moves,
    pub waits: Vec<Waiting>,
    /// Oldest first.
    pub notes: Vec<Note>,
    pub visits: Vec<Visit>,
    pub part_lines: Vec<PartLine>,
    pub quotes: Vec<Quote>,
    pub approvals: Vec<Approval>,
    /// Neither superseded nor taken back.
    pub findings: Vec<Finding>,
    pub actions: Vec<ActionTaken>,
    pub stops: Vec<Stop>,
    /// All of them, removed ones too, in the order in which they were opened.
    pub defeats: Vec<InterlockDefeat>,
    pub waivers: Vec<Waiver>,
    /// What the company's people may choose from.
    pub choices: Choices,
    /// What the readings say; why nothing can be said, if it cannot.
    pub verdicts: Result<Verdicts, String>,
    /// What is wrong; why nothing can be said, if it cannot.
    pub diagnosis: Result<Diagnosed, String>,
    /// What is on the price list for the model.
    pub fitting: Vec<FittingPart>,
    /// Whoever can be sent.
    pub technicians: Vec<(PersonId, String)>,
    pub names: BTreeMap<PersonId, String>,
}

/// Machines of a kitchen, at most.
const MOST: PageRequest = PageRequest { after: None, oldest_first: true, limit: 200 };

impl Question for SeeOrder {
    const NAME: &'static str = "see_order";
    type Answer = OrderFile;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<OrderFile, Refusal> {
        let (database, scope, now) = (application.database(), caller.read_scope(), application.now());
        let missing = || Refusal::NotFound { what: "work order" };
        let order = work_order::of_number(database, &scope, self.number).await?.ok_or_else(missing)?;
        let id = order.id;
        let versions = application.versions().clone();
        let moves = application.perform(caller, ListMoves { versions, id }).await?;
        let site = site::find(database, &scope, order.site).await?.ok_or_else(missing)?;
        let appliance = match order.appliance {
            Some(appliance) => appliance::find(database, &scope, appliance).await?,
            None => None,
        };
        let call = match order.call {
            Some(call) => Some(application.perform(caller, ReadCall(call)).await?),
            None => None,
        };
        let contact = match call.as_ref().and_then(|intake| intake.call.contact) {
            Some(contact) => self::contact(application, caller, contact).await?,
            None => None,
        };
        let (waits, visits) = (waiting::of_order(database, id).await?, visit::of_order(database, id).await?);
        let notes = note::of_order(database, id).await?;
        let findings = finding::of_order(database, id).await?;
        let findings = findings.into_iter().filter(stands).collect::<Vec<_>>();
        let actions = action_taken::of_order(database, id).await?;
        let defeats = interlock_defeat::of_order(database, id).await?;
        let waivers = waiver::of_order(database, id).await?;
        let in_kitchen = ApplianceFilter { site: Some(order.site), ..ApplianceFilter::default() };
        let mut machines = appliance::list(database, &scope, &in_kitchen, &MOST).await?.items;
        machines.retain(|machine| machine.state != ApplianceState::Removed);
        let (model, fitting, stops) = match &appliance {
            Some(appliance) => (
                application.versions().model(appliance.model.as_str(), appliance.model_version).await?,
                part::fitting(database, appliance.model.as_str()).await?,
                stop::of_appliance(database, appliance.id).await?,
            ),
            None => (None, Vec::new(), Vec::new()),
        };
        let mut known = people_in(&visits, &findings, &actions, &stops, call.as_ref());
        known.extend(notes.iter().map(|note| note.noted_by));
        known.extend(waivers.iter().map(|waiver| waiver.given_by));
        known.extend(defeats.iter().map(|defeat| defeat.opened_by));
        known.insert(caller.principal.person);
        let known: Vec<PersonId> = known.into_iter().collect();
        let epoch = self.epoch;
        Ok(OrderFile {
            now,
            promise: Promise::of_order(&order, &as_waits(&waits), first_arrival(&visits), now),
            verdicts: told(verdicts::of_order(application, &scope, id, epoch).await)?,
            diagnosis: told(diagnosis::of_order(application, &scope, id, epoch, Numbers::Newest).await)?,
            part_lines: part_line::of_order(database, id).await?,
            quotes: quote::of_order(database, id).await?,
            approvals: quote::approvals_of_order(database, id).await?,
            technicians: person::technicians(database).await?,
            names: person::names(database, &known).await?.into_iter().collect(),
            choices: term::choices(database).await?,
            model,
            machines,
            defeats,
            waivers,
            order,
            site,
            appliance,
            call,
            contact,
            moves,
            waits,
            notes,
            visits,
            findings,
            actions,
            stops,
            fitting,
        })
    }
}

async fn contact(
    application: &Application,
    caller: &Caller,
    id: ContactId,
) -> Result<Option<Contact>, Refusal> {
    Ok(contact::find(application.database(), &caller.read_scope(), id).await?)
}

/// An answer, or the sentence that says why there is none. What failed stays a failure.
fn told<T>(asked: Result<Option<T>, Refusal>) -> Result<Result<T, String>, Refusal> {
    match asked {
        Ok(Some(answer)) => Ok(Ok(answer)),
        Ok(None) => Err(Refusal::NotFound { what: "work order" }),
        Err(Refusal::Conflict { detail }) => Ok(Err(detail)),
        Err(Refusal::NotFound { what }) => Ok(Err(format!("there is no {what}"))),
        Err(failure) => Err(failure),
    }
}

fn stands(finding: &Finding) -> bool {
    finding.superseded_by.is_none() && finding.retraction_reason.is_none()
}

fn first_arrival(visits: &[Visit]) -> Option<Timestamp> {
    visits.iter().filter_map(|visit| visit.times.arrived_at).min()
}

fn as_waits(waits: &[Waiting]) -> Vec<Wait> {
    let wait = |wait: &Waiting| Wait {
        reason: wait.reason,
        from_at: wait.from_at,
        to_at: wait.to_at,
        pauses_clock: wait.pauses_clock,
    };
    waits.iter().map(wait).collect()
}

fn people_in(
    visits: &[Visit],
    findings: &[Finding],
    actions: &[ActionTaken],
    stops: &[Stop],
    call: Option<&Intake>,
) -> BTreeSet<PersonId> {
    let sent = visits.iter().flat_map(|visit| visit.people.iter().copied());
    let found = findings.iter().map(|finding| finding.confirmed_by);
    let acted = actions.iter().map(|action| action.taken_by);
    let stopped = stops
        .iter()
        .flat_map(|stop| stop.stopped_by.into_iter().chain(stop.release.as_ref().map(|release| release.by)));
    let called = call.map(|intake| intake.call.taken_by);
    sent.chain(found).chain(acted).chain(stopped).chain(called).collect()
}

/// Which order is meant by a number.
#[derive(Debug, Clone, Copy)]
pub struct OrderOfNumber(pub i64);

/// An order's id, and in which zone its kitchen lies.
#[derive(Debug)]
pub struct KnownOrder {
    pub id: WorkOrderId,
    pub site: SiteId,
    pub time_zone: String,
}

impl Question for OrderOfNumber {
    const NAME: &'static str = "see_order";
    type Answer = KnownOrder;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<KnownOrder, Refusal> {
        let (database, scope) = (application.database(), caller.read_scope());
        let missing = || Refusal::NotFound { what: "work order" };
        let order = work_order::of_number(database, &scope, self.0).await?.ok_or_else(missing)?;
        let site = site::find(database, &scope, order.site).await?.ok_or_else(missing)?;
        Ok(KnownOrder { id: order.id, site: site.id, time_zone: site.time_zone.to_string() })
    }
}
