use store::site::{self, NewSite, Site};
use store::{Change, UnitOfWork};

use super::references;
use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes a kitchen in.
pub struct CreateSite(pub NewSite);

impl UseCase for CreateSite {
    const NAME: &'static str = "create_site";
    type Outcome = Created<Site>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        references::check(unit, Some(new.customer), new.branch, Some(&new.time_zone)).await?;
        let creation = site::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "site")?;
        if is_new {
            unit.record(Change::of("site.created", new.id).at_site(new.id));
        }
        let item = written(site::get(unit, new.id).await?, "site")?;
        Ok(Created { item, is_new })
    }
}
