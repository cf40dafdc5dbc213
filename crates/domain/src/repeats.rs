//! Repeat failures: which faults come back, how often against chance and against the fleet, whether
//! it is getting worse.
//!
//! A *repeat* is the same fault of the same appliance confirmed again after its **verified**
//! restoration; a *recurring fault* is the kitchen's view: repeats, and the same fault on several of
//! its appliances. Whether it was anybody's labour (a *callback*) is for a person to say, never for
//! this computation.

pub mod counting;

/// The lengths, in days, of the windows in which repeats are counted.
pub const WINDOW_DAYS: [u16; 4] = [7, 30, 90, 365];
