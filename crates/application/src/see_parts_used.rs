//! Which parts the company used, by month.

use chrono::{Datelike, NaiveDate};
use store::parts_usage::{self, UsageQuestion};

pub use store::parts_usage::{UsageLeftOut, UsageRow};

use crate::{Application, Caller, Question, Refusal};

/// The last twelve months, the present one among them.
#[derive(Debug, Clone, Copy)]
pub struct SeePartsUsed;

#[derive(Debug)]
pub struct PartsUsed {
    /// First days of the months, oldest first.
    pub months: Vec<NaiveDate>,
    /// By part and month of fitting.
    pub parts: Vec<UsageRow>,
    pub left_out: UsageLeftOut,
}

impl Question for SeePartsUsed {
    const NAME: &'static str = "see_parts_used";
    type Answer = PartsUsed;

    async fn answer(self, application: &Application, _: &Caller) -> Result<PartsUsed, Refusal> {
        let (database, now) = (application.database(), application.now());
        let months = last_months(now.instant().date_naive());
        let question = UsageQuestion {
            time_zone: None,
            from: months.first().copied(),
            to: None,
            part: None,
            site: None,
            as_of: now,
            by_part: true,
            by_site: false,
            by_month: true,
        };
        Ok(PartsUsed {
            months,
            parts: parts_usage::usage(database, &question).await?,
            left_out: parts_usage::left_out(database, &question).await?,
        })
    }
}

/// First days of the twelve months that end with the one of a day, oldest first.
fn last_months(day: NaiveDate) -> Vec<NaiveDate> {
    let count = day.year() * 12 + day.month0().cast_signed();
    let month = |count: i32| {
        let month = u32::try_from(count.rem_euclid(12)).unwrap_or_default() + 1;
        NaiveDate::from_ymd_opt(count.div_euclid(12), month, 1)
    };
    (count - 11..=count).filter_map(month).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twelve_months_end_with_the_present_one() {
        let day = NaiveDate::from_ymd_opt(2026, 2, 28).unwrap();
        let months = last_months(day);
        assert_eq!(months.len(), 12);
        assert_eq!(months[0], NaiveDate::from_ymd_opt(2025, 3, 1).unwrap());
        assert_eq!(months[11], NaiveDate::from_ymd_opt(2026, 2, 1).unwrap());
    }
}
