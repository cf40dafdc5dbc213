//! The response that a kitchen was promised: somebody stands there within so many hours of the call.

use chrono::TimeDelta;
use domain::time::Timestamp;
use domain::work::Urgency;
use store::today::{OpenOrder, Wait};
use store::work_order::WorkOrder;

/// How soon somebody must be there; nothing was promised of planned work. Common practice, no source: two to four hours, the
/// same or the next day, two or three working days. Hours of the clock until a company keeps its own rules and holidays.
pub const fn promised_within(urgency: Urgency) -> Option<TimeDelta> {
    match urgency {
        Urgency::Danger => Some(TimeDelta::hours(4)),
        Urgency::KeyUnitDown => Some(TimeDelta::hours(24)),
        Urgency::Degraded => Some(TimeDelta::hours(72)),
        Urgency::Planned => None,
    }
}

/// A promise and what has run of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Promise {
    /// None where nothing was promised.
    pub within: Option<TimeDelta>,
    /// Since the call, what paused the clock left out; until the first arrival, if there was one.
    pub run: TimeDelta,
    pub standing: Standing,
}

/// How a promise stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    NothingPromised,
    Running,
    /// What is waited for pauses the clock.
    Paused,
    Over,
    Kept,
    Broken,
}

impl Promise {
    pub(super) fn of(order: &OpenOrder, now: Timestamp) -> Self {
        Self::until_arrival(order.urgency, order.received_at, &order.waits, order.first_arrival, now)
    }

    /// The promise of an order; one that ended before anybody came stands as it stood then.
    pub(crate) fn of_order(
        order: &WorkOrder,
        waits: &[Wait],
        first_arrival: Option<Timestamp>,
        now: Timestamp,
    ) -> Self {
        let end = first_arrival.or(order.closed_at);
        Self::until_arrival(order.urgency, order.received_at, waits, end, now)
    }

    fn until_arrival(
        urgency: Urgency,
        received_at: Timestamp,
        waits: &[Wait],
        arrival: Option<Timestamp>,
        now: Timestamp,
    ) -> Self {
        let run = run(received_at, arrival.unwrap_or(now), waits);
        let within = promised_within(urgency);
        let is_paused = waits.iter().any(|wait| wait.pauses_clock && wait.to_at.is_none());
        let standing = match within {
            None => Standing::NothingPromised,
            Some(within) => match (arrival.is_some(), run <= within) {
                (true, true) => Standing::Kept,
                (true, false) => Standing::Broken,
                (false, false) => Standing::Over,
                (false, true) if is_paused => Standing::Paused,
                (false, true) => Standing::Running,
            },
        };
        Self { within, run, standing }
    }

    /// What is left of it: less than nothing once it is over.
    pub fn left(&self) -> Option<TimeDelta> {
        self.within.map(|within| within - self.run)
    }

    /// The one that breaks first stands first; what cannot break any more stands behind.
    pub(super) fn rank(&self) -> (u8, i64) {
        let left = self.left().map_or(0, |left| left.num_seconds());
        match self.standing {
            Standing::Over | Standing::Running => (0, left),
            Standing::Paused => (1, left),
            Standing::Broken | Standing::Kept => (2, -self.run.num_seconds()),
            Standing::NothingPromised => (3, -self.run.num_seconds()),
        }
    }
}

/// The time from one moment to another in which nothing paused the clock; pauses that overlap count once.
fn run(from: Timestamp, until: Timestamp, waits: &[Wait]) -> TimeDelta {
    let (from, until) = (from.instant(), until.instant());
    let mut pauses: Vec<_> = waits
        .iter()
        .filter(|wait| wait.pauses_clock)
        .map(|wait| {
            let end = wait.to_at.map_or(until, Timestamp::instant);
            (wait.from_at.instant().max(from), end.min(until))
        })
        .filter(|(begin, end)| begin < end)
        .collect();
    pauses.sort();
    let (mut paused, mut told) = (TimeDelta::zero(), from);
    for (begin, end) in pauses {
        let begin = begin.max(told);
        if end > begin {
            paused += end - begin;
            told = end;
        }
    }
    (until - from - paused).max(TimeDelta::zero())
}

#[cfg(test)]
mod tests {
    use domain::work::WaitingReason;

    use super::*;

    fn at(time: &str) -> Timestamp {
        format!("2026-04-22T{time}:00Z").parse().unwrap()
    }

    fn wait(from: &str, to: Option<&str>, pauses_clock: bool) -> Wait {
        Wait { reason: WaitingReason::Access, from_at: at(from), to_at: to.map(at), pauses_clock }
    }

    #[test]
    fn pauses_are_left_out_once() {
        let hours = |waits: &[Wait]| run(at("08:00"), at("12:00"), waits).num_minutes();
        assert_eq!(hours(&[]), 240);
        assert_eq!(hours(&[wait("09:00", Some("10:00"), false)]), 240, "what is ours pauses nothing");
        assert_eq!(hours(&[wait("09:00", Some("10:00"), true)]), 180);
        let overlap = [wait("09:00", Some("10:30"), true), wait("10:00", Some("11:00"), true)];
        assert_eq!(hours(&overlap), 120);
        let inside = [wait("09:00", Some("11:00"), true), wait("09:30", Some("10:00"), true)];
        assert_eq!(hours(&inside), 120);
        assert_eq!(hours(&[wait("07:00", None, true)]), 0, "since before the call, until now");
    }
}
