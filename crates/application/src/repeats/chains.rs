//! What came back, link by link, and the causes behind it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::TimeDelta;
use domain::id::{ApplianceId, SiteId};
use domain::repeats::causes::{CauseCount, CauseStanding, causes_beside};
use domain::text::Key;
use domain::vocabulary::Position;
use store::failure_chains::{self, Occurrence};

use super::Window;
use super::compared::Compared;
use crate::{Application, Refusal};

/// Failures of one position of one machine, oldest first; two or more.
#[derive(Debug)]
pub struct Chain {
    pub appliance: ApplianceId,
    pub position: Position,
    pub links: Vec<Occurrence>,
}

/// A cause that was found in the kitchen.
#[derive(Debug)]
pub struct KitchenCause {
    pub standing: CauseStanding,
    /// Machines of the kitchen on which it was found: what they share.
    pub machines: usize,
}

impl Chain {
    /// From each verified restoration to the next call; none where nothing was restored in between.
    pub fn between(&self) -> impl Iterator<Item = Option<TimeDelta>> + '_ {
        self.links.windows(2).map(|pair| {
            let restored = pair[0].restored_at?;
            Some(pair[1].received_at.instant() - restored.instant()).filter(|time| *time >= TimeDelta::zero())
        })
    }
}

pub(super) async fn of_kitchen(
    application: &Application,
    site: SiteId,
    window: Window,
    compared: &Compared,
) -> Result<(Vec<Chain>, Vec<KitchenCause>), Refusal> {
    let (from, to) = window.ends()?;
    let occurrences = failure_chains::of_site(application.database(), site, from, to).await?;
    let causes = causes(&occurrences, &compared.causes)?;
    Ok((chains(occurrences), causes))
}

/// The longest first.
fn chains(occurrences: Vec<Occurrence>) -> Vec<Chain> {
    let mut by_place: BTreeMap<(ApplianceId, Position), Vec<Occurrence>> = BTreeMap::new();
    for occurrence in occurrences {
        by_place.entry((occurrence.appliance, occurrence.position)).or_default().push(occurrence);
    }
    let mut chains: Vec<Chain> = by_place
        .into_iter()
        .filter(|(_, links)| links.len() > 1)
        .map(|((appliance, position), links)| Chain { appliance, position, links })
        .collect();
    chains.sort_by_key(|chain| std::cmp::Reverse(chain.links.len()));
    chains
}

/// A cause nobody knows is none.
const UNKNOWN: &str = "unknown";

fn causes(occurrences: &[Occurrence], of_all: &BTreeMap<Key, u32>) -> Result<Vec<KitchenCause>, Refusal> {
    let mut here: BTreeMap<&Key, (u32, BTreeSet<ApplianceId>)> = BTreeMap::new();
    for occurrence in occurrences {
        if let Some(cause) = occurrence.cause.as_ref().filter(|cause| cause.as_str() != UNKNOWN) {
            let (count, machines) = here.entry(cause).or_default();
            *count += 1;
            machines.insert(occurrence.appliance);
        }
    }
    // What was found since the others were counted is here alone.
    let all: BTreeSet<&Key> = of_all.keys().chain(here.keys().copied()).collect();
    let counts: Vec<CauseCount> = all
        .into_iter()
        .map(|cause| {
            let count = here.get(cause).map_or(0, |(count, _)| *count);
            let elsewhere = of_all.get(cause).copied().unwrap_or(0).saturating_sub(count);
            CauseCount { cause: cause.clone(), here: count, elsewhere }
        })
        .collect();
    let standings = causes_beside(&counts).map_err(|error| Refusal::Internal(error.to_string()))?;
    let with_machines = |standing: CauseStanding| {
        let machines = here.get(&standing.count.cause).map_or(0, |(_, machines)| machines.len());
        KitchenCause { standing, machines }
    };
    Ok(standings.into_iter().map(with_machines).collect())
}
