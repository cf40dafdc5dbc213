use std::collections::BTreeMap;

use domain::id::SiteId;
use domain::standing_facts::{StandingFact, StandingFacts};
use domain::text::Words;
use store::site::{self, Site};
use store::{Change, UnitOfWork};

use super::GetSite;
use crate::{Application, Caller, Question, Refusal, UseCase};

/// The facts that hold of a kitchen, with its version.
#[derive(Debug, Clone, Copy)]
pub struct GetStandingFacts(pub SiteId);

impl Question for GetStandingFacts {
    const NAME: &'static str = "get_standing_facts";
    type Answer = (StandingFacts, i64);

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Self::Answer, Refusal> {
        let site = GetSite(self.0).answer(application, caller).await?;
        Ok((site.standing_facts, site.version))
    }
}

/// Changes some of the facts that hold of a kitchen; none empties one. Whoever is sent there learns them first, and may tell
/// them.
pub struct UpdateStandingFacts {
    pub id: SiteId,
    pub expected_version: i64,
    pub facts: BTreeMap<StandingFact, Option<Words>>,
}

impl UseCase for UpdateStandingFacts {
    const NAME: &'static str = "update_standing_facts";
    type Outcome = Site;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Site, Refusal> {
        let missing = Refusal::NotFound { what: "site" };
        let mut site = site::get_within(unit, &caller.read_scope(), self.id).await?.ok_or(missing)?;
        let changed: Vec<&'static str> = self.facts.keys().map(|fact| fact.word()).collect();
        for (fact, words) in self.facts {
            match words {
                Some(words) => site.standing_facts.insert(fact, words),
                None => site.standing_facts.remove(&fact),
            };
        }
        if !site::update_standing_facts(unit, &site, self.expected_version).await? {
            return Err(Refusal::Stale { what: "site", current: site.version });
        }
        unit.record(Change::of("site.changed", self.id).at_site(self.id).fields(changed));
        site.version = self.expected_version + 1;
        Ok(site)
    }
}
