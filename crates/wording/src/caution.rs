//! What to tell a caller, and whoever goes there, about dangers.

use domain::danger::Danger;
use domain::work::{Precaution, precautions};

use crate::term;

/// Each with the rule that it follows, where there is one.
pub fn of_dangers(dangers: &[Danger], stop_use: bool) -> Vec<(String, Option<&'static str>)> {
    precautions(dangers, stop_use).into_iter().map(of_precaution).collect()
}

pub fn of_precaution(precaution: Precaution) -> (String, Option<&'static str>) {
    (term("precaution", precaution.word()).into_owned(), precaution.rule())
}
