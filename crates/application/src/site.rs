//! Sites: kitchens, and the water that they get.

mod create;
mod record_water;
mod references;
mod update;

pub use create::CreateSite;
pub use record_water::RecordSiteWater;
pub use update::UpdateSite;
