//! All kitchens against each other, kept for as long as somebody looks from page to page.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use domain::id::SiteId;
use domain::repeats::RepeatsError;
use domain::repeats::fleet::{Failure, Family, Fleet, against_each_other};
use domain::text::Key;
use domain::time::Timestamp;
use store::failure_chains;
use store::fleet_failures::{self, FleetRecord};

use super::Window;
use crate::renewed::Renewed;
use crate::{Application, Refusal};

/// What was seen in a window, and what it says.
#[derive(Debug)]
pub(crate) struct Compared {
    pub as_of: Timestamp,
    pub record: FleetRecord,
    /// How often each cause was found in all kitchens.
    pub causes: BTreeMap<Key, u32>,
    pub kitchens: Fleet<SiteId>,
    pub positions: Fleet<SiteId>,
}

/// Comparisons that were made lately.
pub(crate) type LastCompared = Renewed<Window, Compared>;

/// So old a comparison is given as it is.
pub(crate) const FRESH: Duration = Duration::from_secs(30);

pub(crate) async fn compared(application: &Application, window: Window) -> Result<Arc<Compared>, Refusal> {
    let own = application.clone();
    application.last_compared().get(window, move || async move { make(&own, window).await }).await
}

async fn make(application: &Application, window: Window) -> Result<Compared, Refusal> {
    let (from, to) = window.ends()?;
    let as_of = application.now();
    let record = fleet_failures::between(application.database(), from, to).await?;
    let causes = failure_chains::causes(application.database(), from.instant(), to.instant()).await?;
    let compute = move || {
        let failures: Vec<Failure<SiteId>> =
            record.failures.iter().map(|found| found.failure.clone()).collect();
        let kitchens = against_each_other(Family::Kitchen, &record.times, &failures)?;
        let positions = against_each_other(Family::KitchenPosition, &record.times, &failures)?;
        Ok::<_, RepeatsError>(Compared { as_of, record, causes, kitchens, positions })
    };
    let compared = application.versions().tables().compute(compute).await?;
    compared.map_err(|error| Refusal::Internal(error.to_string()))
}
