//! Parts that pages are made of.

pub(crate) mod against;
pub(crate) mod life;
pub(crate) mod moves;
pub(crate) mod scale;
