//! Sites: kitchens, and the water that they get.

mod create;
mod read;
mod record_water;
mod references;
mod standing_facts;
mod update;
mod water;

pub use create::CreateSite;
pub use read::{GetSite, ListSites};
pub use record_water::RecordSiteWater;
pub use standing_facts::{GetStandingFacts, UpdateStandingFacts};
pub use store::site::{NewSite, Site, SiteFilter};
pub use store::site_water::{KeptWaterSample, NewWaterSample};
pub use update::UpdateSite;
pub use water::{AgainstLimits, GetSiteWater, SiteWater};
