//! From which day to which failures are counted.

use chrono::{DateTime, Days, NaiveDate, NaiveTime, Utc};
use domain::time::Timestamp;

use crate::Refusal;

/// Days that are over, in UTC: what happens today may still come in from a phone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    pub first: NaiveDate,
    pub last: NaiveDate,
}

/// Where nothing else is said.
const USUAL_DAYS: u64 = 365;
const MOST_DAYS: i64 = 3653;

/// Which end is wrong, and what it has to be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WindowFault {
    #[error("must be a day that is over: {last_complete} or earlier")]
    FromNotOver { last_complete: NaiveDate },
    #[error("must not be earlier than from, {from}")]
    ToBeforeFrom { from: NaiveDate },
    #[error("must be within ten years of to, {to}")]
    TooLong { to: NaiveDate },
}

impl WindowFault {
    /// The end that is wrong, by its name.
    pub fn is_of(&self) -> &'static str {
        match self {
            Self::FromNotOver { .. } | Self::TooLong { .. } => "from",
            Self::ToBeforeFrom { .. } => "to",
        }
    }
}

impl Window {
    /// The year that ended yesterday, where neither end is said; a last day that is not over becomes yesterday.
    pub fn of(from: Option<NaiveDate>, to: Option<NaiveDate>, now: Timestamp) -> Result<Self, WindowFault> {
        let today = now.instant().date_naive();
        let last_complete = today.pred_opt().unwrap_or(today);
        let last = to.map_or(last_complete, |to| to.min(last_complete));
        let first = from.unwrap_or_else(|| last.checked_sub_days(Days::new(USUAL_DAYS - 1)).unwrap_or(last));
        if first > last_complete {
            return Err(WindowFault::FromNotOver { last_complete });
        }
        if first > last {
            return Err(WindowFault::ToBeforeFrom { from: first });
        }
        if (last - first).num_days() >= MOST_DAYS {
            return Err(WindowFault::TooLong { to: last });
        }
        Ok(Self { first, last })
    }

    pub fn days(self) -> i64 {
        (self.last - self.first).num_days() + 1
    }

    /// The first moment of the first day, and the first after the last.
    pub(crate) fn ends(self) -> Result<(Timestamp, Timestamp), Refusal> {
        let begin = |day: NaiveDate| {
            Timestamp::try_from(DateTime::<Utc>::from_naive_utc_and_offset(day.and_time(NaiveTime::MIN), Utc))
                .map_err(|fault| Refusal::Internal(format!("{day} begins at no time: {fault}")))
        };
        Ok((begin(self.first)?, begin(self.last.succ_opt().unwrap_or(self.last))?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn a_window_ends_yesterday_at_the_latest_and_is_a_year_unless_said() {
        let now: Timestamp = "2026-04-22T09:00:00Z".parse().unwrap();
        let usual = Window::of(None, None, now).unwrap();
        assert_eq!((usual.first, usual.last), (day("2025-04-22"), day("2026-04-21")));
        assert_eq!(usual.days(), 365);
        assert_eq!(Window::of(None, Some(day("2026-12-31")), now).unwrap(), usual);
        let one = Window::of(Some(day("2026-04-21")), Some(day("2026-04-21")), now).unwrap();
        assert_eq!(one.days(), 1);
        let faults = [
            Window::of(Some(day("2026-04-22")), None, now),
            Window::of(Some(day("2026-03-02")), Some(day("2026-03-01")), now),
            Window::of(Some(day("2016-04-01")), None, now),
        ];
        for fault in faults {
            assert!(fault.unwrap_err().to_string().starts_with("must "));
        }
    }
}
