//! The demo's own days, and how far they are moved so that it ends when somebody looks at it.

use application::surroundings::{Clock, SystemClock};
use chrono::{Datelike, Days, NaiveDate, TimeDelta};
use domain::time::Timestamp;
use serde_json::Value;

/// 22 April 2026, in days since 1970: the last day of the stories, as they are written.
const LAST_DAY: i64 = 20_565;
/// Weeks after which the simulated years, as the simulator makes them, end on that day.
const PAST_LAGS_WEEKS: i64 = 16;
/// The first and the last year in which the demo may end.
const YEARS: std::ops::RangeInclusive<i32> = 2000..=2199;

/// By how many whole weeks all times of the demo are moved: a Sunday stays a Sunday. What it is called by, its
/// ids, does not move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Shift {
    weeks: i64,
}

impl Shift {
    /// So that the last day is that day, or lies less than a week before it.
    pub fn to_end_by(day: NaiveDate) -> Self {
        let days = day.signed_duration_since(NaiveDate::default()).num_days();
        Self { weeks: (days - LAST_DAY).div_euclid(7) }
    }

    /// What moves the simulated years so that they end with the stories.
    pub const fn of_the_past(self) -> Self {
        Self { weeks: self.weeks + PAST_LAGS_WEEKS }
    }

    /// The time moved; as it was, if it left the years that a time may have.
    pub fn of(self, at: Timestamp) -> Timestamp {
        Timestamp::new(at.instant() + TimeDelta::weeks(self.weeks)).unwrap_or(at)
    }

    fn of_day(self, day: NaiveDate) -> NaiveDate {
        let days = Days::new(self.weeks.unsigned_abs() * 7);
        if self.weeks < 0 { day - days } else { day + days }
    }

    /// Moves every text of a script that is a time or a day.
    pub fn move_all(self, value: &mut Value) {
        match value {
            Value::String(text) => {
                if let Ok(at) = text.parse::<Timestamp>() {
                    *text = self.of(at).to_string();
                } else if let Ok(day) = text.parse::<NaiveDate>() {
                    *text = self.of_day(day).to_string();
                }
            }
            Value::Array(items) => items.iter_mut().for_each(|item| self.move_all(item)),
            Value::Object(members) => members.values_mut().for_each(|member| self.move_all(member)),
            _ => {}
        }
    }
}

/// The day by which the demo is to end, as an operator writes it: `today`, or a date.
pub fn last_day(text: &str) -> Result<NaiveDate, String> {
    let day = match text {
        "today" => Some(SystemClock.now().instant().date_naive()),
        date => date.parse().ok(),
    };
    day.filter(|day| YEARS.contains(&day.year())).ok_or_else(|| {
        format!("give today, or a day from {} to {} as in 2026-04-22", YEARS.start(), YEARS.end())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ending(day: &str) -> Shift {
        Shift::to_end_by(last_day(day).unwrap())
    }

    #[test]
    fn the_demo_ends_on_the_day_or_in_the_week_before_it_and_keeps_its_weekdays() {
        for (day, ends) in [
            ("2026-04-22", "2026-04-22"),
            ("2026-04-28", "2026-04-22"),
            ("2026-04-29", "2026-04-29"),
            ("2026-04-21", "2026-04-15"),
            ("2028-02-29", "2028-02-23"),
            ("2001-01-01", "2000-12-27"),
        ] {
            let mut script =
                serde_json::json!({"at": "2026-04-22T11:20:00Z", "until": ["2026-04-22", "1 Quay"]});
            ending(day).move_all(&mut script);
            let at = format!("{ends}T11:20:00.000000Z");
            assert_eq!(script, serde_json::json!({"at": at, "until": [ends, "1 Quay"]}), "{day}");
        }
    }

    #[test]
    fn what_is_no_day_of_these_years_is_answered_with_one_that_is() {
        for odd in
            ["", "tomorrow", "22.4.2026", "2026-02-30", "1999-12-31", "2200-01-01", "2026-04-22T00:00:00Z"]
        {
            assert!(last_day(odd).unwrap_err().contains("as in 2026-04-22"), "{odd}");
        }
        assert!(last_day("today").is_ok());
    }

    #[test]
    fn the_simulated_years_end_with_the_stories() {
        let settings = crate::demo::settings();
        let last = settings.start.instant() + TimeDelta::days(i64::from(settings.days) - 1);
        let last = Shift::default().of_the_past().of(Timestamp::new(last).unwrap());
        assert_eq!(last.instant().date_naive().to_string(), "2026-04-22");
        let steps = crate::demo::script::steps(Shift::default()).unwrap();
        assert_eq!(steps.last().unwrap().at.instant().date_naive().to_string(), "2026-04-22");
    }
}
