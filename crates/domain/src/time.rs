//! Instants at the resolution that the store keeps: microseconds, always UTC.

use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use serde::{Deserialize, Serialize, Serializer};

/// An instant in UTC, truncated to whole microseconds when it is made, so that what was stored and
/// what was sent never differ below the store's resolution.
///
/// ```
/// use domain::time::Timestamp;
/// let noon: Timestamp = "2026-03-02T12:00:00.1234567+01:00".parse().unwrap();
/// assert_eq!(noon.to_string(), "2026-03-02T11:00:00.123456Z");
/// assert!("2026-03-02T12:00:00".parse::<Timestamp>().is_err(), "an offset is required");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[serde(try_from = "String")]
pub struct Timestamp(DateTime<Utc>);

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a time is RFC 3339 with an offset and a year from 1970 to 2199, such as 2026-03-02T11:00:00Z")]
pub struct InvalidTimestamp;

impl Timestamp {
    /// The first instant of 1970 and the last of 2199, in microseconds since the first. The schema holds the same.
    const RANGE: std::ops::RangeInclusive<i64> = 0..=7_258_118_399_999_999;

    /// The instant, truncated to microseconds. Years outside 1970 to 2199 are an error: nothing in this
    /// trade happened before, and what lies later is a wrong clock.
    pub fn new(instant: DateTime<Utc>) -> Result<Self, InvalidTimestamp> {
        let microseconds = instant.timestamp_micros();
        let in_range = Self::RANGE.contains(&microseconds);
        DateTime::from_timestamp_micros(microseconds).filter(|_| in_range).map(Self).ok_or(InvalidTimestamp)
    }

    /// The instant moved by so many microseconds: a device's time, by what its clock lacks.
    pub fn moved(self, microseconds: i64) -> Result<Self, InvalidTimestamp> {
        let moved = self.0.checked_add_signed(TimeDelta::microseconds(microseconds));
        Self::new(moved.ok_or(InvalidTimestamp)?)
    }

    pub fn instant(self) -> DateTime<Utc> {
        self.0
    }
}

impl std::str::FromStr for Timestamp {
    type Err = InvalidTimestamp;

    fn from_str(text: &str) -> Result<Self, InvalidTimestamp> {
        let instant = DateTime::parse_from_rfc3339(text).map_err(|_| InvalidTimestamp)?;
        Self::new(instant.to_utc())
    }
}

impl TryFrom<DateTime<Utc>> for Timestamp {
    type Error = InvalidTimestamp;

    fn try_from(instant: DateTime<Utc>) -> Result<Self, InvalidTimestamp> {
        Self::new(instant)
    }
}

impl TryFrom<String> for Timestamp {
    type Error = InvalidTimestamp;

    fn try_from(text: String) -> Result<Self, InvalidTimestamp> {
        text.parse()
    }
}

impl Serialize for Timestamp {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl std::fmt::Display for Timestamp {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.0.to_rfc3339_opts(SecondsFormat::Micros, true))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_range_ends_with_its_years() {
        for (text, holds) in [
            ("1970-01-01T00:00:00Z", true),
            ("1969-12-31T23:59:59.999999Z", false),
            ("2199-12-31T23:59:59.999999Z", true),
            ("2200-01-01T00:00:00Z", false),
            ("2199-12-31T23:59:59-01:00", false),
            ("9999-12-31T23:59:59Z", false),
        ] {
            assert_eq!(text.parse::<Timestamp>().is_ok(), holds, "{text}");
        }
    }

    #[test]
    fn a_time_is_not_moved_out_of_the_range() {
        let noon: Timestamp = "2026-03-02T12:00:00Z".parse().unwrap();
        assert_eq!(noon.moved(-60_000_000).unwrap().to_string(), "2026-03-02T11:59:00.000000Z");
        for out in [i64::MIN, i64::MAX, -2_000_000_000_000_000, 6_000_000_000_000_000] {
            assert_eq!(noon.moved(out), Err(InvalidTimestamp));
        }
    }
}
