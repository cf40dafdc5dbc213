//! Appliances: machines in kitchens.

mod create;
mod limits;
mod update;

pub use create::CreateAppliance;
pub use update::UpdateAppliance;
