//! The demo company: invented. Two years of its past are simulated and entered through the use cases; the
//! stories after them are told by hand, as scripts of requests (`demo/*.json`) that the interface itself
//! carries out. Times may be moved, so that it ends today. A clock stands at each entry's moment. So nothing in it can be what the service refuses.

mod calendar;
mod clock;
mod company;
pub mod script;
mod teller;

pub use calendar::{Shift, last_day};
pub use company::settings;
pub use teller::{SignIn, tell};

#[cfg(test)]
mod tests;
