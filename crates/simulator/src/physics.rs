//! The machine as this simulator believes in it, apart from the predictor's formulas: fouled
//! strainers whose exponent is not ½, a supply that moves while it is drawn on, a sump that locks
//! with air and lets go only above where it locked, heat that lags behind its element. It shares the
//! data of the catalogue's models and none of the predictor's code.

mod command;
mod drain;
mod electric;
mod fill;
mod heat;
mod machine;
mod performance;
mod wash;

pub use command::Output;
pub use drain::Drain;
pub use electric::Electrics;
pub use fill::Fill;
pub(crate) use fill::supply;
pub use heat::{Heating, Steam};
pub use machine::{Design, Machine, Surroundings};
pub use performance::Performance;
pub use wash::Wash;

#[cfg(test)]
pub(crate) use machine::{calm_surroundings, worked_design};
