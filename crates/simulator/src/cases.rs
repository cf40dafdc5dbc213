//! Labelled diagnosis cases, by which a diagnosis is judged.
//!
//! Tier A ([`catalogue`]) draws faults, severities and readings from the catalogue's own model of them,
//! integrated by this crate: an ideal observer could be exactly right about its chances. Tier B
//! ([`physical`]) takes the calls of a simulated company, whose physics, ageing and people know nothing
//! of the catalogue.

pub mod catalogue;
pub(crate) mod intake;
pub mod physical;
