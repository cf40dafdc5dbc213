//! Parts that pages are made of.

pub(crate) mod scale;
pub(crate) mod moves;
