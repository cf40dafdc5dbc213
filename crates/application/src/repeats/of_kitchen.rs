//! Is this kitchen worse than chance?

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, SiteId};
use domain::repeats::fleet::Standing;
use domain::repeats::trend::{Laplace, laplace};
use domain::repeats::{Observed, RepeatsError};
use domain::time::Timestamp;
use domain::vocabulary::Position;
use store::site;

use super::Window;
use super::chains::{self, Chain, KitchenCause};
use super::compared::{Compared, compared};
use crate::{Application, Caller, Question, Refusal};

/// A kitchen's failures beside those that the other kitchens' rates give for its machines.
#[derive(Debug, Clone, Copy)]
pub struct GetSiteRepeats {
    pub site: SiteId,
    pub window: Window,
}

#[derive(Debug)]
pub struct KitchenRepeats {
    pub as_of: Timestamp,
    pub window: Window,
    /// The kitchen as a whole; none where no machine of it was watched in the window, or nothing ever failed on its models.
    pub whole: Option<Standing>,
    /// Positions at which something failed or was expected, those with most failures first.
    pub positions: Vec<(Position, Standing)>,
    /// Whether failures come faster within the window; none with fewer than four.
    pub trend: Option<Laplace>,
    /// What failed twice or more at one place, the longest chain first.
    pub chains: Vec<Chain>,
    /// Causes that were found here, the surest to stand out first.
    pub causes: Vec<KitchenCause>,
}

impl Question for GetSiteRepeats {
    const NAME: &'static str = "get_site_repeats";
    type Answer = KitchenRepeats;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<KitchenRepeats, Refusal> {
        let found = site::find(application.database(), &caller.read_scope(), self.site).await?;
        found.ok_or(Refusal::NotFound { what: "kitchen" })?;
        of_kitchen(application, self.site, self.window).await
    }
}

/// [`GetSiteRepeats`] of a kitchen that may be seen.
pub(crate) async fn of_kitchen(
    application: &Application,
    site: SiteId,
    window: Window,
) -> Result<KitchenRepeats, Refusal> {
    let compared = compared(application, window).await?;
    let mut positions: Vec<(Position, Standing)> = compared
        .positions
        .cells
        .range((site, None)..)
        .take_while(|((of, _), _)| *of == site)
        .filter_map(|((_, position), standing)| Some(((*position)?, *standing)))
        .collect();
    let expected = |standing: &Standing| standing.cell.expected;
    let failures = |standing: &Standing| standing.cell.n + standing.cell.n_without_fleet;
    positions
        .sort_by(|(_, a), (_, b)| failures(b).cmp(&failures(a)).then(expected(b).total_cmp(&expected(a))));
    let (chains, causes) = chains::of_kitchen(application, site, window, &compared).await?;
    Ok(KitchenRepeats {
        as_of: compared.as_of,
        window,
        whole: compared.kitchens.cells.get(&(site, None)).copied(),
        positions,
        trend: trend(&compared, site, window)?,
        chains,
        causes,
    })
}

/// Over the kitchen's machines together, each in the time in which it was watched.
fn trend(compared: &Compared, site: SiteId, window: Window) -> Result<Option<Laplace>, Refusal> {
    let (from, _) = window.ends()?;
    let day = |at: DateTime<Utc>| (at - from.instant()).as_seconds_f64() / 86_400.0;
    let mut observed: BTreeMap<ApplianceId, Observed> = BTreeMap::new();
    for (appliance, watch) in &compared.record.watches {
        if watch.site == site && watch.since < watch.until {
            let window = Observed { from: day(watch.since), to: day(watch.until), events: Vec::new() };
            observed.insert(*appliance, window);
        }
    }
    for found in &compared.record.failures {
        if let Some(machine) = observed.get_mut(&found.appliance) {
            machine.events.push(day(found.reported_at.instant()));
        }
    }
    match laplace(&observed.into_values().collect::<Vec<_>>()) {
        Ok(trend) => Ok(Some(trend)),
        Err(RepeatsError::TooFew { .. }) => Ok(None),
        Err(error) => Err(Refusal::Internal(error.to_string())),
    }
}
