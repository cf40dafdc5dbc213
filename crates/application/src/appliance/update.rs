use chrono::NaiveDate;
use domain::equipment::FunctionalLimit;
use domain::id::{ApplianceId, SiteId};
use domain::money::Amount;
use domain::role::Role;
use domain::text::{Key, Name};
use domain::work::{ApplianceState, Missing};
use store::appliance::{self, Appliance};
use store::work_order::Money;
use store::{Change, ReadScope, UnitOfWork, appliance_state, catalogue, sight, site, stop};

use super::limits;
use crate::refusal::{Fault, Listed};
use crate::rights::OFFICE;
use crate::stop::{said_unsafe, stop_use};
use crate::use_case::written;
use crate::work_order::require;
use crate::{Caller, Refusal, UseCase};

/// Changes some fields of a machine. An absent field stays; `Some(None)` empties it. A technician sets
/// what is read from the machine itself; where it belongs, what it must hold and what
/// a new one costs is the office's.
pub struct UpdateAppliance {
    pub id: ApplianceId,
    pub expected_version: i64,
    pub site: Option<SiteId>,
    pub model: Option<(Key, u32)>,
    pub position_label: Option<Name>,
    pub serial: Option<Option<Name>>,
    pub installed_on: Option<Option<NaiveDate>>,
    pub state: Option<ApplianceState>,
    pub limits: Option<Vec<FunctionalLimit>>,
    pub replacement_price: Option<Option<Money>>,
}

impl UseCase for UpdateAppliance {
    const NAME: &'static str = "update_appliance";
    type Outcome = Appliance;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Appliance, Refusal> {
        let (id, expected_version) = (self.id, self.expected_version);
        let found = appliance::get(unit, &caller.read_scope(), id).await?;
        let mut appliance = found.ok_or(Refusal::NotFound { what: "appliance" })?;
        let role = caller.principal.role;
        if role == Role::Technician && self.is_for_the_office() {
            return Err(Refusal::WrongRole { role, allowed: OFFICE });
        }
        if appliance.version != expected_version {
            return Err(Refusal::Stale { what: "appliance", current: appliance.version });
        }
        let (left, stood) = (appliance.site, appliance.state);
        self.keep_stopped(unit, stood).await?;
        let sight = sight::of_machine(unit, id).await?;
        let changed = self.apply(&mut appliance);
        check(unit, &appliance).await?;
        if !appliance::update(unit, &appliance, expected_version).await? {
            return Err(Refusal::Stale { what: "appliance", current: appliance.version });
        }
        if appliance.state == ApplianceState::UnsafeDoNotUse && stood != appliance.state {
            stop_use(unit, caller, said_unsafe(id, appliance.site, unit.now())).await?;
            let changed = appliance::get(unit, &ReadScope::everything(), id).await?;
            appliance.version = written(changed, "appliance")?.version;
        } else {
            appliance.version = expected_version + 1;
        }
        let change = Change::of("appliance.changed", id).on_appliance(Some(id)).fields(changed);
        if appliance.site != left {
            sight.tell_losses(unit).await?;
            unit.record(Change::of("appliance.moved_away", id).at_site(left));
        }
        unit.record(change.at_site(appliance.site));
        Ok(appliance)
    }
}

impl UpdateAppliance {
    /// What leaves all fields as they are.
    pub fn of(id: ApplianceId, expected_version: i64) -> Self {
        Self {
            id,
            expected_version,
            site: None,
            model: None,
            position_label: None,
            serial: None,
            installed_on: None,
            state: None,
            limits: None,
            replacement_price: None,
        }
    }

    fn is_for_the_office(&self) -> bool {
        self.site.is_some() || self.limits.is_some() || self.replacement_price.is_some()
    }

    /// A machine under stop-use is released by its own operation; here it may only be taken away.
    async fn keep_stopped(&self, unit: &mut UnitOfWork, stood: ApplianceState) -> Result<(), Refusal> {
        let Some(state) = self.state else { return Ok(()) };
        appliance_state::lock(unit, self.id).await?;
        let is_stopped =
            stood == ApplianceState::UnsafeDoNotUse || !stop::open_of(unit, self.id).await?.is_empty();
        if is_stopped && !matches!(state, ApplianceState::UnsafeDoNotUse | ApplianceState::Removed) {
            return require(&[Missing::Release]);
        }
        Ok(())
    }

    fn apply(self, appliance: &mut Appliance) -> Vec<&'static str> {
        let mut changed = Vec::new();
        if let Some(site) = self.site {
            appliance.site = site;
            changed.push("site_id");
        }
        if let Some((key, version)) = self.model {
            (appliance.model, appliance.model_version) = (key, version);
            changed.push("model");
        }
        if let Some(position_label) = self.position_label {
            appliance.position_label = position_label;
            changed.push("position_label");
        }
        if let Some(serial) = self.serial {
            appliance.serial = serial;
            changed.push("serial");
        }
        if let Some(installed_on) = self.installed_on {
            appliance.installed_on = installed_on;
            changed.push("installed_on");
        }
        if let Some(state) = self.state {
            appliance.state = state;
            changed.push("state");
        }
        if let Some(limits) = self.limits {
            appliance.limits = limits;
            changed.push("limits");
        }
        if let Some(price) = self.replacement_price {
            appliance.replacement_price = price;
            changed.push("replacement_price");
        }
        changed
    }
}

async fn check(unit: &mut UnitOfWork, appliance: &Appliance) -> Result<(), Refusal> {
    let mut faults = Vec::new();
    if appliance.replacement_price.is_some_and(|price| price.amount == Amount::ZERO) {
        let fault = "must be more than 0.00, or the price null where it is not known";
        faults.push(Fault::at("/replacement_price/amount", fault));
    }
    if site::get(unit, appliance.site).await?.is_none() {
        faults.push(Fault::at("/site_id", "no site has this id"));
    }
    match catalogue::model::get(unit, appliance.model.as_str(), appliance.model_version).await? {
        Some(model) => faults.extend(limits::faults(unit, &model.entry, &appliance.limits).await?),
        None => {
            faults.push(Fault::not_listed("/model/key", "no model has this key and version", Listed::Models));
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(Refusal::Invalid(faults)) }
}
