//! The demo company: small, hand-made, invented. Its story is a script of requests (`demo/*.json`) that
//! the interface itself carries out, on a clock that stands at each request's moment; so nothing in it
//! can be what the interface would refuse.

mod script;
mod teller;

pub use teller::{SignIn, tell};
