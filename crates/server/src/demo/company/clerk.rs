//! Turns entries into use cases.

mod of_order;

use std::collections::{BTreeMap, BTreeSet};
use std::str::FromStr;
use std::sync::Arc;

use application::appliance::{CreateAppliance, FitPart, UpdateAppliance};
use application::branch::CreateBranch;
use application::catalogue::{CreateFaultCatalogue, CreateModel};
use application::contact::CreateContact;
use application::customer::CreateCustomer;
use application::part::CreatePart;
use application::person::CreatePerson;
use application::site::{CreateSite, RecordSiteWater};
use application::stop::ReleaseAppliance;
use application::test_run::{RecordTestRuns, Recorded};
use application::{Application, Caller, Principal, Refusal, UseCase};
use domain::evidence::TestRun;
use domain::id::{ApplianceId, CallId, PartLineId, PersonId, WorkOrderId};
use domain::role::{Role, Scope};
use domain::text::{Key, Name, Words};
use domain::time::Timestamp;
use domain::work::ApplianceState;
use rust_decimal::Decimal;
use simulator::history::{self, Dated, Entry};
use store::appliance::NewAppliance;
use store::branch::NewBranch;
use store::contact::{Belongs, NewContact};
use store::customer::NewCustomer;
use store::fitted_part::NewFittedPart;
use store::part::{Fit, NewPart};
use store::person::NewPerson;
use store::site::NewSite;
use store::site_water::NewWaterSample;
use uuid::Uuid;

use super::super::calendar::Shift;
use super::super::clock::ScriptClock;
use crate::wiring::Failure;

/// Enters the history of one branch.
pub(super) struct Clerk {
    application: Application,
    clock: Arc<ScriptClock>,
    shift: Shift,
    administrator: Principal,
    people: BTreeMap<PersonId, Principal>,
    /// Taken, and entered with the order that it opens.
    calls: BTreeMap<CallId, history::Call>,
    /// What a phone has not sent yet, by order, with who took it.
    readings: BTreeMap<WorkOrderId, (PersonId, Vec<TestRun>)>,
    /// Lines that the customer decides on: the quote and its approval move them.
    quoted: BTreeSet<PartLineId>,
    /// Repairs that the service does not take as proven: they end as temporary ones.
    unproven: BTreeSet<WorkOrderId>,
    versions: BTreeMap<Uuid, i64>,
    /// Which machine each order is about.
    machines: BTreeMap<WorkOrderId, ApplianceId>,
    /// And over which complaint.
    symptoms: BTreeMap<WorkOrderId, Vec<Key>>,
}

fn odd(error: impl std::fmt::Display) -> Failure {
    Failure::Other(format!("the simulated company says what the domain does not know: {error}"))
}

fn word<T: FromStr<Err: std::fmt::Display>>(word: &str) -> Result<T, Failure> {
    word.parse().map_err(|error| odd(format_args!("{word}: {error}")))
}

fn key(text: &str) -> Result<Key, Failure> {
    Key::new(text).map_err(odd)
}

fn name(text: impl Into<String>) -> Result<Name, Failure> {
    Name::new(text).map_err(odd)
}

impl Clerk {
    pub fn new(
        application: Application,
        clock: Arc<ScriptClock>,
        shift: Shift,
        administrator: Principal,
    ) -> Self {
        Self {
            application,
            clock,
            shift,
            administrator,
            people: BTreeMap::new(),
            calls: BTreeMap::new(),
            readings: BTreeMap::new(),
            quoted: BTreeSet::new(),
            unproven: BTreeSet::new(),
            versions: BTreeMap::new(),
            machines: BTreeMap::new(),
            symptoms: BTreeMap::new(),
        }
    }

    pub async fn enter(&mut self, dated: Dated) -> Result<(), Failure> {
        let (at, by) = (self.shift.of(dated.at), dated.by);
        self.clock.set(at);
        let what = dated.entry;
        let entered = match what {
            Entry::Branch(_)
            | Entry::Person(_)
            | Entry::Part(_)
            | Entry::Model(_)
            | Entry::FaultCatalogue(_) => self.set_up(what).await,
            Entry::Customer(_)
            | Entry::Site(_)
            | Entry::Contact(_)
            | Entry::SiteWater(_)
            | Entry::Appliance(_)
            | Entry::ApplianceState(_)
            | Entry::FittedPart(_) => self.of_a_site(what, by).await,
            // parts are moved between stores by no use case yet; what a line fits removes what was there
            Entry::Store(_) | Entry::PartMovement(_) | Entry::FittedPartRemoved(_) => Ok(()),
            _ => self.of_an_order(what, at, by).await,
        };
        entered.map_err(|failure| {
            Failure::Other(format!("the demo company cannot be entered at {at}: {failure:?}"))
        })
    }

    fn caller(&self, by: Option<PersonId>) -> Result<Caller, Failure> {
        let principal = match by {
            None => &self.administrator,
            Some(person) => self.people.get(&person).ok_or_else(|| odd("somebody who was never hired"))?,
        };
        Ok(Caller { principal: principal.clone(), request_id: "demo".to_owned() })
    }

    async fn perform<U: UseCase>(&self, by: Option<PersonId>, use_case: U) -> Result<U::Outcome, Failure> {
        Ok(self.application.perform(&self.caller(by)?, use_case).await?)
    }

    /// Changes what has a version: as it was when it was seen last, and if somebody has changed it since,
    /// as it is now.
    async fn change<U: UseCase>(
        &mut self,
        by: Option<PersonId>,
        id: Uuid,
        use_case: impl Fn(i64) -> U + Send,
        version_of: impl Fn(&U::Outcome) -> i64 + Send,
    ) -> Result<(), Failure> {
        let caller = self.caller(by)?;
        let seen = self.versions.get(&id).copied().unwrap_or(1);
        let changed = match self.application.perform(&caller, use_case(seen)).await {
            Err(Refusal::Stale { current, .. }) => {
                self.application.perform(&caller, use_case(current)).await?
            }
            changed => changed?,
        };
        self.versions.insert(id, version_of(&changed));
        Ok(())
    }

    async fn set_up(&mut self, entry: Entry) -> Result<(), Failure> {
        match entry {
            Entry::Branch(branch) => {
                let new = NewBranch { id: branch.id, name: name(branch.name)? };
                self.perform(None, CreateBranch(new)).await?;
            }
            Entry::Person(person) => {
                let role: Role = word(person.role)?;
                let skills = person.skills.iter().map(|skill| key(skill)).collect::<Result<_, _>>()?;
                let new = NewPerson { id: person.id, name: name(person.name.as_str())?, role, skills };
                self.perform(None, CreatePerson(new)).await?;
                let scopes = vec![Scope::Read, Scope::Write];
                let principal = Principal { person: person.id, token: None, name: person.name, role, scopes };
                self.people.insert(person.id, principal);
            }
            Entry::Part(part) => {
                let position = key(part.position)?;
                let fit = |model: &&str| Ok(Fit { model_key: key(model)?, position: position.clone() });
                let new = NewPart {
                    id: part.id,
                    number: name(part.number)?,
                    title: name(part.name)?,
                    unit_price: Decimal::new(part.price_hundredths, 2),
                    currency: part.currency.to_owned(),
                    fits: part.models.iter().map(fit).collect::<Result<_, Failure>>()?,
                };
                self.perform(None, CreatePart(new)).await?;
            }
            Entry::Model(model) => {
                self.perform(None, CreateModel(*model)).await?;
            }
            Entry::FaultCatalogue(catalogue) => {
                self.perform(None, CreateFaultCatalogue(*catalogue)).await?;
            }
            other => return Err(odd(format_args!("{other:?} at the start"))),
        }
        Ok(())
    }

    async fn of_a_site(&mut self, entry: Entry, by: Option<PersonId>) -> Result<(), Failure> {
        match entry {
            Entry::Customer(customer) => {
                let external_id = Some(name(customer.external_id)?);
                let new = NewCustomer { id: customer.id, name: name(customer.name)?, external_id };
                self.perform(by, CreateCustomer(new)).await?;
            }
            Entry::Site(site) => {
                let new = NewSite {
                    id: site.id,
                    customer: site.customer,
                    branch: Some(site.branch),
                    name: name(site.name)?,
                    place: name(site.place)?,
                    time_zone: name(site.time_zone)?,
                    external_id: None,
                    altitude_m: Some(site.altitude_m),
                };
                self.perform(by, CreateSite(new)).await?;
            }
            Entry::Contact(contact) => {
                let new = NewContact {
                    id: contact.id,
                    belongs: Belongs::ToSite(contact.site),
                    name: name(contact.name)?,
                    phone: Some(name(contact.phone)?),
                };
                self.perform(by, CreateContact(new)).await?;
            }
            Entry::SiteWater(water) => {
                let history::SiteWater { id, site, taken_at, sample, as_read } = water;
                let taken_at = self.shift.of(taken_at);
                let new = NewWaterSample { id, site, taken_at, sample, as_read };
                self.perform(by, RecordSiteWater(new)).await?;
            }
            Entry::Appliance(appliance) => {
                let new = NewAppliance {
                    id: appliance.id,
                    site: appliance.site,
                    model: key(appliance.model)?,
                    model_version: None,
                    position_label: name(appliance.position_label)?,
                    serial: Some(name(appliance.serial)?),
                    installed_on: Some(day(self.shift.of(appliance.installed_on))),
                    state: ApplianceState::Up,
                    limits: Vec::new(),
                };
                self.perform(by, CreateAppliance(new)).await?;
            }
            Entry::ApplianceState(state) => {
                let to: ApplianceState = word(state.state)?;
                let update = |expected_version| UpdateAppliance {
                    state: Some(to),
                    ..UpdateAppliance::of(state.appliance, expected_version)
                };
                let updated = self.change(by, state.appliance.uuid(), update, |appliance| appliance.version);
                match updated.await {
                    // the service keeps a machine unsafe until somebody answers for it
                    Err(Failure::Refused(Refusal::Missing(_))) => {
                        self.release(state.appliance, to).await?;
                    }
                    updated => updated?,
                }
            }
            // what a part line fits is noted when it is fitted
            Entry::FittedPart(fitted) if fitted.part_line.is_none() => {
                let new = NewFittedPart {
                    id: fitted.id,
                    appliance: fitted.appliance,
                    position: key(fitted.position)?,
                    part: fitted.part,
                    serial: fitted.serial.map(name).transpose()?,
                    fitted_at: self.shift.of(fitted.fitted_at),
                };
                self.perform(by, FitPart(new)).await?;
            }
            _ => {}
        }
        Ok(())
    }

    /// Somebody of the management releases a machine that was looked at.
    pub(super) async fn release(&mut self, id: ApplianceId, state: ApplianceState) -> Result<(), Failure> {
        let versions = Arc::clone(self.application.versions());
        let reason = "What was dangerous is repaired, and somebody looked at the machine.";
        let reason = Words::new(reason).map_err(odd)?;
        let release = |expected_version| {
            let (versions, reason) = (Arc::clone(&versions), reason.clone());
            ReleaseAppliance { versions, id, expected_version, state, reason }
        };
        self.change(None, id.uuid(), release, |appliance| appliance.version).await
    }

    /// Sends the readings of an order in one batch, as a phone does that was out of reach.
    async fn send_readings_of(&mut self, order: WorkOrderId) -> Result<(), Failure> {
        let Some((by, runs)) = self.readings.remove(&order) else { return Ok(()) };
        let versions = Arc::clone(self.application.versions());
        let batch = RecordTestRuns { versions, runs, clock_correction_microseconds: 0 };
        for recorded in self.perform(Some(by), batch).await? {
            match recorded {
                Recorded::Created(_) => {}
                refused => return Err(odd(format_args!("a run that is not taken: {refused:?}"))),
            }
        }
        Ok(())
    }

    /// Sends what phones still hold.
    pub async fn send_readings(&mut self) -> Result<(), Failure> {
        while let Some(order) = self.readings.keys().next().copied() {
            self.send_readings_of(order).await?;
        }
        Ok(())
    }
}

fn day(at: Timestamp) -> chrono::NaiveDate {
    at.instant().date_naive()
}
