//! What share we mend at the first visit, what comes back, how long it takes.

mod answer;
mod facts;

pub use answer::{GetMeasures, Group, GroupName, Grouping, Measured, Measures};
pub(crate) use answer::{LastMeasures, MOST_KEPT};
pub use domain::measures::{
    Change, Counted, FOLLOWED_DAYS, Figure, LEAST_RANKED, LeftOut, Limits, Measure, Quantile, Spread, Tally,
    USUAL_DAYS,
};
pub(crate) use facts::{FRESH, LastFacts};
