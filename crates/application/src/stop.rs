//! Stop-use: a machine that is unsafe stays so until somebody releases it, who answers for that.

mod create;
mod read;
mod release;

pub use create::CreateStop;
use domain::danger::Danger;
use domain::equipment::{FunctionalLimit, Model};
use domain::id::{ApplianceId, SiteId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use domain::work::ApplianceState;
pub use read::ListStops;
pub use release::ReleaseAppliance;
use store::stop;
pub use store::stop::{NewStop, Stop};
use store::{Change, UnitOfWork, appliance_state};

use crate::use_case::body_sha256;
use crate::{Caller, Refusal};

/// What makes a machine unsafe.
pub(crate) struct Stopping<'a> {
    pub appliance: ApplianceId,
    pub site: SiteId,
    pub work_order: Option<WorkOrderId>,
    /// Empty where somebody only says that it is unsafe.
    pub dangers: &'a [Danger],
    pub why: String,
    /// When it was told or read.
    pub at: Timestamp,
}

/// Somebody says that a machine is unsafe, and no more.
pub(crate) fn said_unsafe(appliance: ApplianceId, site: SiteId, at: Timestamp) -> Stopping<'static> {
    let why = "Somebody said that it is unsafe.".to_owned();
    Stopping { appliance, site, work_order: None, dangers: &[], why, at }
}

/// Stops the use of a machine, unless it is stopped over the same dangers already; returns whether anything is new.
pub(crate) async fn stop_use(
    unit: &mut UnitOfWork,
    caller: &Caller,
    of: Stopping<'_>,
) -> Result<bool, Refusal> {
    if appliance_state::lock(unit, of.appliance).await?.is_none() {
        return Ok(false);
    }
    let open = stop::open_of(unit, of.appliance).await?;
    // A danger that is told again, later, has to be looked for again.
    let is_known =
        |danger: &Danger| open.iter().any(|stop| stop.dangers.contains(danger) && stop.stopped_at >= of.at);
    if !open.is_empty() && of.dangers.iter().all(is_known) {
        // A machine that was taken away and is unsafe where it stands now.
        appliance_state::set(unit, of.appliance, ApplianceState::UnsafeDoNotUse).await?;
        return Ok(false);
    }
    let why: String = of.why.chars().take(Words::MAXIMUM).collect();
    let new = NewStop {
        id: unit.next_id().try_into().map_err(|_| Refusal::Internal("an id that is none".to_owned()))?,
        appliance: of.appliance,
        work_order: of.work_order,
        dangers: of.dangers.to_vec(),
        why: Words::new(why).map_err(|error| Refusal::Internal(error.to_string()))?,
        stopped_at: of.at.min(unit.now()),
    };
    keep(unit, caller, &new, of.site, &body_sha256(&new)?).await?;
    Ok(true)
}

/// Keeps a new stop and makes its machine unsafe.
async fn keep(
    unit: &mut UnitOfWork,
    caller: &Caller,
    new: &NewStop,
    site: SiteId,
    hash: &[u8],
) -> Result<store::Creation, Refusal> {
    let creation = stop::insert(unit, new, caller.principal.person, hash).await?;
    if creation == store::Creation::Created {
        let change = |kind| {
            let change = Change::of(kind, new.appliance).at_site(site);
            change.on_appliance(Some(new.appliance)).on_order(new.work_order)
        };
        let stopped = change("appliance.stopped").because(new.why.as_str());
        unit.record(stopped);
        let set = appliance_state::set(unit, new.appliance, ApplianceState::UnsafeDoNotUse).await?;
        if set == appliance_state::Set::Changed {
            let state = ApplianceState::UnsafeDoNotUse.word();
            unit.record(change("appliance.state_set").fields(vec!["state"]).because(state));
        } else {
            appliance_state::count_stop(unit, new.appliance).await?;
        }
    }
    Ok(creation)
}

/// A model as it is for one machine, whose own limits stand before its.
pub(crate) fn with_own_limits(model: &Model, own: &[FunctionalLimit]) -> Model {
    let mut model = model.clone();
    let of_model = std::mem::replace(&mut model.functional_limits, own.to_vec());
    model.functional_limits.extend(of_model);
    model
}
