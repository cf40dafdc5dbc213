//! Which kitchens stand out?

use std::collections::HashMap;

use domain::id::SiteId;
use domain::repeats::fleet::{Family, Standing};
use domain::repeats::prior::TWICE;
use domain::time::Timestamp;
use domain::vocabulary::Position;
use store::fleet_failures::LeftOut;
use store::site::{self, SiteNames};

use super::Window;
use super::compared::compared;
use crate::{Application, Caller, Question, Refusal};

/// The kitchens, or positions of kitchens, that fail more often than twice the fleet's rate, as far as can be told.
#[derive(Debug, Clone, Copy)]
pub struct GetRepeats {
    pub window: Window,
    pub family: Family,
}

#[derive(Debug)]
pub struct FleetRepeats {
    pub as_of: Timestamp,
    pub window: Window,
    /// The surest first.
    pub listed: Vec<StandsOut>,
    /// Cells that were compared at all, and those that expect enough to be listed.
    pub cells: usize,
    pub considered: usize,
    /// The share of those considered whose rate is more than twice the fleet's; none where there are too few to tell.
    pub share_above_twice: Option<f64>,
    pub failures: usize,
    pub left_out: LeftOut,
}

#[derive(Debug)]
pub struct StandsOut {
    pub site: SiteNames,
    pub position: Option<Position>,
    pub standing: Standing,
}

impl Question for GetRepeats {
    const NAME: &'static str = "get_repeats";
    type Answer = FleetRepeats;

    async fn answer(self, application: &Application, _: &Caller) -> Result<FleetRepeats, Refusal> {
        let compared = compared(application, self.window).await?;
        let fleet = match self.family {
            Family::Kitchen => &compared.kitchens,
            Family::KitchenPosition => &compared.positions,
        };
        let sites: Vec<SiteId> = fleet.listed.iter().map(|(site, _)| *site).collect();
        let names = site::names(application.database(), &sites).await?;
        let names: HashMap<SiteId, SiteNames> = names.into_iter().map(|names| (names.id, names)).collect();
        let listed = fleet.listed.iter().filter_map(|of| {
            let (site, standing) = (names.get(&of.0)?.clone(), *fleet.cells.get(of)?);
            Some(StandsOut { site, position: of.1, standing })
        });
        let above = |masses: &[(f64, f64)]| {
            masses.iter().filter(|(rate, _)| *rate > TWICE).map(|(_, share)| share).sum::<f64>().min(1.0)
        };
        Ok(FleetRepeats {
            as_of: compared.as_of,
            window: self.window,
            listed: listed.collect(),
            cells: fleet.cells.len(),
            considered: fleet.considered,
            share_above_twice: fleet.prior.as_ref().map(|prior| above(&prior.masses)),
            failures: compared.record.failures.len(),
            left_out: compared.record.left_out,
        })
    }
}
