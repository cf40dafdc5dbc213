//! All kitchens against each other, kept for as long as somebody looks from page to page.

use std::collections::BTreeMap;
use std::sync::{Arc, PoisonError};
use std::time::{Duration, Instant};

use domain::id::SiteId;
use domain::repeats::RepeatsError;
use domain::repeats::fleet::{Failure, Family, Fleet, against_each_other};
use domain::text::Key;
use domain::time::Timestamp;
use store::failure_chains;
use store::fleet_failures::{self, FleetRecord};
use tokio::sync::Mutex;

use super::Window;
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

/// The comparison that was made last.
#[derive(Debug, Default)]
pub(crate) struct LastCompared {
    kept: std::sync::Mutex<Option<Kept>>,
    /// Held by whoever makes one.
    making: Arc<Mutex<()>>,
}

#[derive(Debug, Clone)]
struct Kept {
    window: Window,
    made: Instant,
    compared: Arc<Compared>,
}

/// So old a comparison is given as it is,
const FRESH: Duration = Duration::from_secs(30);
/// and so old at most while a new one is made: over a large company that takes seconds. It says of when it is.
const USABLE: Duration = Duration::from_mins(20);

impl LastCompared {
    fn of(&self, window: Window) -> Option<Kept> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.clone().filter(|kept| kept.window == window)
    }

    fn keep(&self, window: Window, compared: Arc<Compared>) {
        let kept = Kept { window, made: Instant::now(), compared };
        *self.kept.lock().unwrap_or_else(PoisonError::into_inner) = Some(kept);
    }
}

pub(crate) async fn compared(application: &Application, window: Window) -> Result<Arc<Compared>, Refusal> {
    let last = application.last_compared();
    match last.of(window) {
        Some(kept) if kept.made.elapsed() < FRESH => return Ok(kept.compared),
        Some(kept) if kept.made.elapsed() < USABLE => {
            if let Ok(turn) = Arc::clone(&last.making).try_lock_owned() {
                let application = application.clone();
                tokio::spawn(async move {
                    if let Err(refusal) = make(&application, window).await {
                        tracing::warn!(%refusal, "the kitchens could not be compared anew");
                    }
                    drop(turn);
                });
            }
            return Ok(kept.compared);
        }
        _ => {}
    }
    // Whoever asks while it is made waits for it.
    let _turn = last.making.lock().await;
    match last.of(window) {
        Some(kept) if kept.made.elapsed() < FRESH => Ok(kept.compared),
        _ => make(application, window).await,
    }
}

async fn make(application: &Application, window: Window) -> Result<Arc<Compared>, Refusal> {
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
    let compared = Arc::new(compared.map_err(|error| Refusal::Internal(error.to_string()))?);
    application.last_compared().keep(window, Arc::clone(&compared));
    Ok(compared)
}
