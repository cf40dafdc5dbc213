//! Appliances: machines in kitchens.

mod costs;
mod create;
mod fit_part;
mod history;
mod limits;
mod positions;
mod read;
mod update;

pub use costs::{ApplianceCosts, GetApplianceCosts};
pub use create::CreateAppliance;
pub use fit_part::FitPart;
pub use history::{ApplianceHistory, GetApplianceHistory};
pub use positions::{KnownPosition, ListAppliancePositions};
pub(crate) use read::require_shown;
pub use read::{GetAppliance, ListAppliances, ListFittedParts, ListSiteAppliances};
pub use store::appliance::{Appliance, ApplianceFilter, NewAppliance};
pub use store::appliance_cost::{CostOfMachine, YearOfMachine};
pub use store::fitted_part::{FittedPart, NewFittedPart};
pub use store::history::HistoryEntry;
pub use store::position_summary::PositionSummary;
pub use update::UpdateAppliance;
