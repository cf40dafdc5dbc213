//! In which days parts were watched.

use chrono::NaiveDate;
use domain::time::Timestamp;

use crate::Refusal;
use crate::repeats::Window;

/// From the first day that anything is known of, unless said; to the moment of asking, unless said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WatchedDays {
    pub first: Option<NaiveDate>,
    pub last: Option<NaiveDate>,
}

/// What is wrong with the days that were asked for: the end, and what it has to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WatchedDaysFault {
    #[error("must be a day that has begun: {today} or earlier")]
    FromNotBegun { today: NaiveDate },
    #[error("must not be earlier than from, {from}")]
    ToBeforeFrom { from: NaiveDate },
}

impl WatchedDaysFault {
    /// The end that is wrong, by its name.
    pub fn is_of(self) -> &'static str {
        match self {
            Self::FromNotBegun { .. } => "from",
            Self::ToBeforeFrom { .. } => "to",
        }
    }
}

impl WatchedDays {
    /// Days in UTC, both included.
    pub fn of(
        first: Option<NaiveDate>,
        last: Option<NaiveDate>,
        now: Timestamp,
    ) -> Result<Self, WatchedDaysFault> {
        let today = now.instant().date_naive();
        if first.is_some_and(|first| first > today) {
            return Err(WatchedDaysFault::FromNotBegun { today });
        }
        match (first, last) {
            (Some(from), Some(last)) if last < from => Err(WatchedDaysFault::ToBeforeFrom { from }),
            _ => Ok(Self { first, last: last.filter(|last| *last < today) }),
        }
    }

    /// The first moment of the first day, and the first after the last.
    pub(super) fn ends(self, now: Timestamp) -> Result<(Option<Timestamp>, Timestamp), Refusal> {
        let whole = |day: NaiveDate| Window { first: day, last: day }.ends();
        let from = self.first.map(|first| whole(first).map(|ends| ends.0)).transpose()?;
        let until = self.last.map_or(Ok(now), |last| whole(last).map(|ends| ends.1))?;
        Ok((from, until))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As it is given where it is given.
    fn day(text: &str) -> Option<NaiveDate> {
        text.parse().ok()
    }

    #[test]
    fn days_that_cannot_be_are_refused_and_today_is_not_over() {
        let now: Timestamp = "2026-04-22T09:00:00Z".parse().unwrap();
        let of = |first, last| WatchedDays::of(first, last, now);
        assert_eq!(of(None, None), Ok(WatchedDays { first: None, last: None }));
        assert_eq!(of(day("2026-04-22"), day("2026-04-22")).unwrap().last, None, "until now");
        assert_eq!(of(None, day("2027-01-01")).unwrap().last, None);
        assert_eq!(of(day("2026-04-23"), None).unwrap_err().is_of(), "from");
        assert_eq!(of(day("2026-03-02"), day("2026-03-01")).unwrap_err().is_of(), "to");
        let (from, until) = of(day("2026-03-01"), day("2026-03-02")).unwrap().ends(now).unwrap();
        assert_eq!(from, Some("2026-03-01T00:00:00Z".parse().unwrap()));
        assert_eq!(until, "2026-03-03T00:00:00Z".parse().unwrap());
    }
}
