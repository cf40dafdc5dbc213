//! Orders to be told of, in hours after the first of January.

use std::collections::HashMap;

use chrono::{DateTime, TimeDelta, Utc};

use crate::id::ApplianceId;
use crate::measures::{Attendance, LeftOut, Measure, OrderFacts, Reading, Record};
use crate::vocabulary::Position;
use crate::work::{OrderKind, Outcome, Urgency};

pub fn id<T: std::str::FromStr<Err: std::fmt::Debug>>(number: u32) -> T {
    format!("01890a5d-ac96-774b-bcce-b302{number:08x}").parse().unwrap()
}

pub fn at(hours: i64) -> DateTime<Utc> {
    let start: DateTime<Utc> = "2026-01-01T00:00:00Z".parse().unwrap();
    start + TimeDelta::hours(hours)
}

pub const DAY: i64 = 24;

/// A corrective order on machine 1 that nobody has looked at yet.
pub fn order(number: u32, received: i64) -> OrderFacts {
    OrderFacts {
        id: id(number),
        follows: None,
        appliance: Some(id(1)),
        model: None,
        branch: None,
        kind: OrderKind::Corrective,
        urgency: Urgency::Degraded,
        received_at: at(received),
        restored_at: None,
        closed_at: None,
        outcome: None,
        attended: Vec::new(),
        waits: Vec::new(),
        faults: Vec::new(),
        from_our_repair: false,
        symptoms: Vec::new(),
        parts: Vec::new(),
        repairs: Vec::new(),
        waived: false,
        promised: Some(TimeDelta::hours(72)),
    }
}

impl OrderFacts {
    #[must_use]
    pub fn visited(mut self, arrived: i64, left: i64) -> Self {
        self.attended.push(Attendance {
            arrived_at: at(arrived),
            left_at: Some(at(left)),
            people: Vec::new(),
        });
        self
    }

    #[must_use]
    pub fn found(mut self, position: Position) -> Self {
        self.faults.push(position);
        self
    }

    #[must_use]
    pub fn restored(mut self, hours: i64) -> Self {
        self.restored_at = Some(at(hours));
        self.ended(Outcome::Repaired, hours + 1)
    }

    #[must_use]
    pub fn ended(mut self, outcome: Outcome, hours: i64) -> Self {
        self.closed_at = Some(at(hours));
        self.outcome = Some(outcome);
        self
    }
}

/// What the first of these orders adds, as known so many days after the first of January; machine 1 was removed at the hour.
pub fn of_first(
    measure: Measure,
    orders: &[OrderFacts],
    days: u16,
    known: i64,
    removed: Option<i64>,
) -> Vec<Reading> {
    let removed: HashMap<ApplianceId, _> = removed.map(|hours| (id(1), at(hours))).into_iter().collect();
    let orders: Vec<_> = orders.iter().cloned().map(|order| order.as_known(at(known * DAY))).collect();
    let record = Record::of(&orders, &removed, at(known * DAY), days);
    record.read(measure, &orders[0]).into_iter().map(|(_, reading)| reading).collect()
}

pub const YES: Reading = Reading::Counts { part: 1, whole: 1 };
pub const NO: Reading = Reading::Counts { part: 0, whole: 1 };

pub fn left_out(why: LeftOut) -> Vec<Reading> {
    vec![Reading::LeftOut(why)]
}
