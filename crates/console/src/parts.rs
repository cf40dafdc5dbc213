//! Parts that pages are made of.

pub(crate) mod against;
pub(crate) mod chains;
pub(crate) mod chart;
pub(crate) mod interval;
pub(crate) mod life;
pub(crate) mod moves;
pub(crate) mod scale;
pub(crate) mod water;

/// A precaution with the rule that it follows.
pub(crate) fn caution(precaution: domain::work::Precaution) -> String {
    match wording::caution::of_precaution(precaution) {
        (text, Some(rule)) => format!("{text} ({rule})"),
        (text, None) => text,
    }
}
