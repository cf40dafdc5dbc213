//! Measures of the business: what share was mended at the first visit, what came back, how long it took.
//!
//! Each is a rule that says of one order whether it counts, whether it is left out and why, or whether it is too early
//! to tell; [`tally`] sums them over a period, in groups, beside the year before. A share comes with its exact limits
//! ([`clopper_pearson`]), two of them are compared exactly ([`fisher`], [`two_rates`]), durations count what has not
//! ended yet ([`spread`]). An empty denominator gives no figure, and never zero.

mod exact;
mod order;
mod rules;
mod spread;
mod tally;

pub use exact::{Limits, clopper_pearson, fisher, rate_limits, two_rates};
pub use order::{Attendance, OrderFacts, Part, Wait};
pub use rules::{LeftOut, Reading, Record};
pub use spread::{Duration, Quantile, Spread, differ, spread};
pub use tally::{Change, Counted, Figure, Period, Question, Tally, tally};

use crate::reliability::ReliabilityError;
use crate::repeats::RepeatsError;
use crate::word_list;

/// How sure the limits of a measure are.
pub const CONFIDENCE: f64 = 0.95;

/// Groups smaller than this are not ranked among each other.
pub const LEAST_RANKED: u32 = 10;

/// The days within which something may come back, of which one is chosen.
pub const FOLLOWED_DAYS: [u16; 3] = [7, 30, 90];
/// Of them, where nothing else is said.
pub const USUAL_DAYS: u16 = 30;

word_list! {
    /// What is measured.
    pub enum Measure {
        /// Diagnosed, repaired and verified at the first visit, and not back within D days.
        MendedAtFirstVisit = "mended_at_first_visit",
        /// Any later corrective order on the same machine within D days of the verified restoration.
        CalledAgain = "called_again",
        /// The same symptom, the same position, or an order that follows the first.
        CameBack = "came_back",
        /// A person found our earlier repair to be the cause.
        CameBackFromOurRepair = "came_back_from_our_repair",
        /// Somebody arrived within what was promised.
        ReachedAsPromised = "reached_as_promised",
        /// Attended, and no fault was confirmed.
        NoFaultFound = "no_fault_found",
        /// Repaired, and no part of the proof was waived.
        ProvenInFull = "proven_in_full",
        /// Parts that were brought and sent back unused.
        ReturnedUnused = "returned_unused",
        /// Parts fitted where the order confirmed no fault.
        FittedNotTheCause = "fitted_not_the_cause",
        /// Visits of an attended order.
        VisitsPerOrder = "visits_per_order",
        /// From the call to the first arrival.
        Response = "response",
        /// From the call to the verified restoration.
        Restoration = "restoration",
        /// On site, all visits of a restored order together.
        OnSite = "on_site",
        WaitingForParts = "waiting_for_parts",
        WaitingForApproval = "waiting_for_approval",
    }
}

impl Measure {
    /// Whether it is a share: a count of some among all.
    pub const fn is_share(self) -> bool {
        !self.is_duration() && !matches!(self, Self::VisitsPerOrder)
    }

    /// Whether it is a duration; else it is a count over a count.
    pub const fn is_duration(self) -> bool {
        matches!(
            self,
            Self::Response
                | Self::Restoration
                | Self::OnSite
                | Self::WaitingForParts
                | Self::WaitingForApproval
        )
    }

    /// Whether its figure depends on the days within which something may come back.
    pub const fn is_followed(self) -> bool {
        matches!(
            self,
            Self::MendedAtFirstVisit | Self::CalledAgain | Self::CameBack | Self::CameBackFromOurRepair
        )
    }
}

/// Why there is no answer: what was given is outside what the computation is valid for.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MeasureError {
    #[error("{name} must be {allowed}, is {actual}")]
    Parameter { name: &'static str, allowed: &'static str, actual: f64 },
    #[error(transparent)]
    Repeats(#[from] RepeatsError),
    #[error(transparent)]
    Reliability(#[from] ReliabilityError),
}

#[cfg(test)]
mod tests;
