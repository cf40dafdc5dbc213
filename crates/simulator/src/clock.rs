//! Simulated time in whole seconds since 1970-01-01 UTC, and as the timestamps of the history.

use chrono::DateTime;
use domain::time::Timestamp;

pub const MINUTE: i64 = 60;
pub const HOUR: i64 = 60 * MINUTE;
pub const DAY: i64 = 24 * HOUR;
pub const YEAR_DAYS: f64 = 365.25;

/// Seconds since 1970; the settings keep it between 1980 and 2200.
pub type Moment = i64;

pub fn moment(timestamp: Timestamp) -> Moment {
    timestamp.instant().timestamp()
}

#[expect(clippy::expect_used, reason = "every moment descends from settings whose years were checked")]
pub fn timestamp(moment: Moment) -> Timestamp {
    let instant = DateTime::from_timestamp(moment, 0).expect("a moment is within chrono's years");
    Timestamp::new(instant).expect("a moment is between 1970 and 2199")
}

/// Days since 1970.
pub fn day_of(moment: Moment) -> i64 {
    moment.div_euclid(DAY)
}

/// 0 is Monday.
pub fn weekday(day: i64) -> i64 {
    (day + 3).rem_euclid(7)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weekdays() {
        let monday: Timestamp = "2024-01-01T12:00:00Z".parse().unwrap();
        assert_eq!(weekday(day_of(moment(monday))), 0);
        assert_eq!(timestamp(moment(monday)), monday);
    }
}
