//! A physical fleet that ages, breaks and is visited: demo data, load, and the ground truth against
//! which diagnosis and repeat statistics are judged. It knows the domain's data types and nothing
//! of its computations, so that it can judge them.

pub mod ageing;
pub mod bench;
pub mod cases;
pub mod clock;
pub mod company;
pub mod defect;
pub mod history;
#[cfg(test)]
mod independence;
pub mod judgement;
pub mod kitchen;
pub mod limits;
pub mod people;
pub mod physics;
pub mod planted;
pub mod random;
pub mod remedy;
pub mod truth;
