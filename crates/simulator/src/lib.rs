//! A physical fleet that ages, breaks and is visited: demo data, load, and the ground truth against
//! which diagnosis and repeat statistics are judged. It knows the domain's data types and nothing
//! of its computations, so that it can judge them.

pub mod history;
