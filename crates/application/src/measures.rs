//! What share we mend at the first visit, what comes back, how long it takes.

mod answer;
mod facts;
mod kept;

pub use answer::{GetMeasures, Group, GroupName, Grouping, Measured, Measures};
pub use domain::measures::{
    Change, Counted, FOLLOWED_DAYS, Figure, LEAST_RANKED, LeftOut, Limits, Measure, Quantile, Spread, Tally,
};
pub(crate) use facts::LastFacts;
pub(crate) use kept::KeptAnswers;
