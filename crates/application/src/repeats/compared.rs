//! All kitchens against each other, kept for as long as somebody looks from page to page.

use std::sync::Arc;
use std::time::{Duration, Instant};

use domain::id::SiteId;
use domain::repeats::RepeatsError;
use domain::repeats::fleet::{Failure, Family, Fleet, against_each_other};
use domain::time::Timestamp;
use store::fleet_failures::{self, FleetRecord};
use tokio::sync::Mutex;

use super::Window;
use crate::{Application, Refusal};

/// What was seen in a window, and what it says.
#[derive(Debug)]
pub(crate) struct Compared {
    pub as_of: Timestamp,
    pub record: FleetRecord,
    pub kitchens: Fleet<SiteId>,
    pub positions: Fleet<SiteId>,
}

/// The comparison that was made last. Whoever asks while it is made waits for it.
#[derive(Debug, Default)]
pub(crate) struct LastCompared(Mutex<Option<(Window, Instant, Arc<Compared>)>>);

/// So old a comparison may be: its page says of when it is.
const FRESH: Duration = Duration::from_secs(30);

pub(super) async fn compared(application: &Application, window: Window) -> Result<Arc<Compared>, Refusal> {
    let mut last = application.last_compared().0.lock().await;
    if let Some((of, at, compared)) = &*last
        && *of == window
        && at.elapsed() < FRESH
    {
        return Ok(Arc::clone(compared));
    }
    let (from, to) = window.ends()?;
    let as_of = application.now();
    let record = fleet_failures::between(application.database(), from, to).await?;
    let compute = move || {
        let failures: Vec<Failure<SiteId>> =
            record.failures.iter().map(|found| found.failure.clone()).collect();
        let kitchens = against_each_other(Family::Kitchen, &record.times, &failures)?;
        let positions = against_each_other(Family::KitchenPosition, &record.times, &failures)?;
        Ok::<_, RepeatsError>(Compared { as_of, record, kitchens, positions })
    };
    let compared = application.versions().tables().compute(compute).await?;
    let compared = Arc::new(compared.map_err(|error| Refusal::Internal(error.to_string()))?);
    *last = Some((window, Instant::now(), Arc::clone(&compared)));
    Ok(compared)
}
