use domain::id::{BranchId, SiteId};
use domain::text::Name;
use store::site::{self, Site};
use store::{Change, UnitOfWork};

use super::references;
use crate::{Caller, Refusal, UseCase};

/// Changes some fields of a kitchen. An absent field stays; `Some(None)` empties it.
pub struct UpdateSite {
    pub id: SiteId,
    pub expected_version: i64,
    pub branch: Option<Option<BranchId>>,
    pub name: Option<Name>,
    pub place: Option<Name>,
    pub time_zone: Option<Name>,
    pub external_id: Option<Option<Name>>,
    pub altitude_m: Option<Option<f64>>,
}

impl UseCase for UpdateSite {
    const NAME: &'static str = "update_site";
    type Outcome = Site;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Site, Refusal> {
        let mut site = site::get(unit, self.id).await?.ok_or(Refusal::NotFound { what: "site" })?;
        references::check(unit, None, self.branch.flatten(), self.time_zone.as_ref()).await?;
        let mut changed = Vec::new();
        if let Some(branch) = self.branch {
            site.branch = branch;
            changed.push("branch_id");
        }
        if let Some(name) = self.name {
            site.name = name;
            changed.push("name");
        }
        if let Some(place) = self.place {
            site.place = place;
            changed.push("place");
        }
        if let Some(time_zone) = self.time_zone {
            site.time_zone = time_zone;
            changed.push("time_zone");
        }
        if let Some(external_id) = self.external_id {
            site.external_id = external_id;
            changed.push("external_id");
        }
        if let Some(altitude_m) = self.altitude_m {
            site.altitude_m = altitude_m;
            changed.push("altitude_m");
        }
        if !site::update(unit, &site, self.expected_version).await? {
            return Err(Refusal::Stale { what: "site", current: site.version });
        }
        unit.record(Change::of("site.changed", self.id).at_site(self.id).fields(changed));
        site.version = self.expected_version + 1;
        Ok(site)
    }
}
