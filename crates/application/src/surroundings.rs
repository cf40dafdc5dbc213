//! The clock and the randomness of the real world; everything else takes them as parameters.

use domain::time::Timestamp;
pub use store::unit_of_work::IdSource;
use uuid::Uuid;

/// Tells the time. Passed in, so that a demo with fixed dates and a test can set it.
pub trait Clock: Send + Sync + std::fmt::Debug {
    fn now(&self) -> Timestamp;
}

/// The machine's clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    #[expect(clippy::disallowed_methods, reason = "the one place that reads the wall clock")]
    fn now(&self) -> Timestamp {
        let now = chrono::Utc::now();
        #[expect(clippy::expect_used, reason = "a machine's clock lies between the years 1970 and 2199")]
        Timestamp::new(now).expect("a clock between the years 1970 and 2199")
    }
}

/// UUID version 7 with the operating system's randomness.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemIds;

impl IdSource for SystemIds {
    #[expect(clippy::disallowed_methods, reason = "the one place that draws identifiers")]
    fn next(&self, now: Timestamp) -> Uuid {
        let milliseconds = now.instant().timestamp_millis().unsigned_abs();
        let mut random = [0; 10];
        random.copy_from_slice(&Uuid::new_v4().as_bytes()[..10]);
        // A version 4 UUID has fixed bits in its octets 6 and 8; the last octets are all random.
        let tail = Uuid::new_v4().into_bytes();
        random[6] = tail[14];
        random[8] = tail[15];
        uuid::Builder::from_unix_timestamp_millis(milliseconds, &random).into_uuid()
    }
}
