//! Instants at the resolution that the store keeps: microseconds, always UTC.

use chrono::{DateTime, SecondsFormat, Utc};
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
#[error("a time is RFC 3339 with an offset and a year from 1970 to 9999, such as 2026-03-02T11:00:00Z")]
pub struct InvalidTimestamp;

impl Timestamp {
    /// The instant, truncated to microseconds. Years outside 1970 to 9999 are an error: RFC 3339 has
    /// four digits, and nothing in this trade happened before.
    pub fn new(instant: DateTime<Utc>) -> Result<Self, InvalidTimestamp> {
        let microseconds = instant.timestamp_micros();
        let in_range = (0..=253_402_300_799_999_999).contains(&microseconds);
        DateTime::from_timestamp_micros(microseconds).filter(|_| in_range).map(Self).ok_or(InvalidTimestamp)
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
