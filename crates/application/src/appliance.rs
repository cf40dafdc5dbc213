//! Appliances: machines in kitchens.

mod create;
mod fit_part;
mod limits;
mod update;

pub use create::CreateAppliance;
pub use fit_part::FitPart;
pub use update::UpdateAppliance;
