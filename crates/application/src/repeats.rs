//! Which kitchens, and which of their positions, fail more often than the fleet and chance explain.

mod chains;
mod compared;
mod of_fleet;
mod of_kitchen;
mod window;

pub use chains::{Chain, KitchenCause};
pub(crate) use compared::{FRESH, LastCompared, compared};
pub use of_fleet::{FleetRepeats, GetRepeats, StandsOut};
pub(crate) use of_kitchen::of_kitchen;
pub use of_kitchen::{GetSiteRepeats, KitchenRepeats};
pub use store::failure_chains::Occurrence;
pub use store::fleet_failures::LeftOut;
pub use window::{Window, WindowFault};
