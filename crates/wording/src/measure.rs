//! What a measure of the business is called and what it counts.

use domain::measures::Measure;

use crate::say_with;

fn message(kind: &str, measure: Measure, days: u16) -> String {
    let key = format!("measures-{kind}-{}", measure.word().replace('_', "-"));
    say_with(&key, &[("days", days.into())])
}

/// Its name, with the days within which something comes back.
pub fn title(measure: Measure, days: u16) -> String {
    message("title", measure, days)
}

/// What is divided by what, or from when to when it lasts.
pub fn definition(measure: Measure, days: u16) -> String {
    message("means", measure, days)
}
