//! What each measure says of one order.

use std::collections::HashMap;

use chrono::{DateTime, TimeDelta, Utc};

use super::Measure;
use super::order::OrderFacts;
use super::spread::Duration;
use crate::id::{ApplianceId, WorkOrderId};
use crate::word_list;
use crate::work::{OrderKind, Outcome, PartLineState, WaitingReason};

type Instant = DateTime<Utc>;

word_list! {
    /// Why an order of the period is in no figure.
    pub enum LeftOut {
        /// Planned work or an installation.
        NotCorrective = "not_corrective",
        Cancelled = "cancelled",
        /// Nobody knows on which machine.
        MachineUnknown = "machine_unknown",
        /// The machine was taken out before its days were over.
        MachineRemoved = "machine_removed",
        SolvedByPhone = "solved_by_phone",
        /// The use was explained: no fault was looked for any more.
        ExplainedUse = "explained_use",
        /// It ended before anybody arrived.
        NotAttended = "not_attended",
        /// It ended without the machine working again.
        NotRestored = "not_restored",
        NothingPromised = "nothing_promised",
        /// The customer pauses the clock still.
        ClockPaused = "clock_paused",
    }
}

/// What one order adds to a measure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reading {
    /// So many of so many.
    Counts {
        part: u32,
        whole: u32,
    },
    Lasts(Duration),
    /// Its days are not over.
    Immature,
    LeftOut(LeftOut),
}

/// All orders, so that each finds those that came after it.
#[derive(Debug)]
pub struct Record<'a> {
    orders: &'a [OrderFacts],
    /// Corrective and not cancelled, by arrival of the call.
    on_machine: HashMap<ApplianceId, Vec<usize>>,
    following: HashMap<WorkOrderId, Vec<usize>>,
    removed: &'a HashMap<ApplianceId, Instant>,
    /// What happened after this moment is not known.
    until: Instant,
    days: TimeDelta,
}

impl<'a> Record<'a> {
    /// `orders` as known at `until` ([`OrderFacts::as_known`]), `removed` when machines were taken out.
    pub fn of(
        orders: &'a [OrderFacts],
        removed: &'a HashMap<ApplianceId, Instant>,
        until: Instant,
        days: u16,
    ) -> Self {
        let mut on_machine: HashMap<ApplianceId, Vec<usize>> = HashMap::new();
        let mut following: HashMap<WorkOrderId, Vec<usize>> = HashMap::new();
        let counts = |order: &OrderFacts| {
            order.kind == OrderKind::Corrective
                && order.outcome != Some(Outcome::Cancelled)
                && order.received_at <= until
        };
        for (place, order) in orders.iter().enumerate().filter(|(_, order)| counts(order)) {
            if let Some(appliance) = order.appliance {
                on_machine.entry(appliance).or_default().push(place);
            }
            if let Some(followed) = order.follows {
                following.entry(followed).or_default().push(place);
            }
        }
        for places in on_machine.values_mut() {
            places.sort_by_key(|place| orders[*place].received_at);
        }
        Self { orders, on_machine, following, removed, until, days: TimeDelta::days(days.into()) }
    }

    pub fn orders(&self) -> &'a [OrderFacts] {
        self.orders
    }

    /// What an order adds to a measure, and the moment by which it belongs to a period; nothing where the measure does not
    /// concern it (yet).
    pub fn read(&self, measure: Measure, order: &OrderFacts) -> Vec<(Instant, Reading)> {
        match measure {
            Measure::MendedAtFirstVisit => self.first_visit(order).into_iter().collect(),
            Measure::CalledAgain => self.return_of(order, |_, _| true).into_iter().collect(),
            Measure::CameBack => self.return_of(order, is_alike).into_iter().collect(),
            Measure::CameBackFromOurRepair => {
                self.return_of(order, |_, later| later.from_our_repair).into_iter().collect()
            }
            Measure::ReachedAsPromised => promise(order).into_iter().collect(),
            Measure::NoFaultFound => attended_end(order)
                .map(|(at, left_out)| (at, left_out.unwrap_or_else(|| counts(!order.has_fault()))))
                .into_iter()
                .collect(),
            Measure::ProvenInFull => {
                repaired_end(order).map(|at| (at, counts(!order.waived))).into_iter().collect()
            }
            Measure::ReturnedUnused => of_parts(order, |part| {
                use PartLineState::{DefectiveReturned, Fitted, ReturnedUnused};
                matches!(part.state, Fitted | ReturnedUnused | DefectiveReturned)
                    .then_some(part.state == ReturnedUnused)
            }),
            Measure::FittedNotTheCause => of_parts(order, |part| {
                let position = part.position.filter(|_| part.state == PartLineState::Fitted)?;
                Some(!order.faults.contains(&position))
            }),
            Measure::VisitsPerOrder => visits(order).into_iter().collect(),
            Measure::Response => self.response(order).into_iter().collect(),
            Measure::Restoration => self.restoration(order).into_iter().collect(),
            Measure::OnSite => on_site(order).into_iter().collect(),
            Measure::WaitingForParts => self.waits(order, WaitingReason::Part),
            Measure::WaitingForApproval => self.waits(order, WaitingReason::Approval),
        }
    }

    /// Of the moment of the first visit's end: diagnosed, repaired and verified on it, and not back within the days.
    fn first_visit(&self, order: &OrderFacts) -> Option<(Instant, Reading)> {
        let first = order.attended.first()?;
        let left = first.left_at?;
        let reading = if order.kind != OrderKind::Corrective {
            Reading::LeftOut(LeftOut::NotCorrective)
        } else if order.outcome == Some(Outcome::Cancelled) {
            Reading::LeftOut(LeftOut::Cancelled)
        } else if order.appliance.is_none() {
            Reading::LeftOut(LeftOut::MachineUnknown)
        } else if left + self.days > self.until {
            Reading::Immature
        } else {
            let restored = order.restored_at.filter(|at| *at <= left);
            let at_once = restored.is_some() && order.attended.len() == 1 && !order.faults.is_empty();
            counts(at_once && restored.is_some_and(|at| self.next(order, at, is_alike).is_none()))
        };
        Some((left, reading))
    }

    /// Of the moment of the verified restoration: whether a later order on the same machine is such a return.
    fn return_of(
        &self,
        order: &OrderFacts,
        is_return: impl Fn(&OrderFacts, &OrderFacts) -> bool,
    ) -> Option<(Instant, Reading)> {
        let restored = order.restored_at?;
        let reading = if order.kind != OrderKind::Corrective {
            Reading::LeftOut(LeftOut::NotCorrective)
        } else if restored + self.days > self.until {
            Reading::Immature
        } else if let Some(appliance) = order.appliance {
            let returned = self.next(order, restored, is_return);
            let removed = self.removed.get(&appliance).filter(|at| **at < restored + self.days);
            match (returned, removed) {
                (Some(_), _) => counts(true),
                (None, Some(_)) => Reading::LeftOut(LeftOut::MachineRemoved),
                (None, None) => counts(false),
            }
        } else {
            Reading::LeftOut(LeftOut::MachineUnknown)
        };
        Some((restored, reading))
    }

    /// The first return within the days after a restoration.
    fn next(
        &self,
        order: &OrderFacts,
        restored: Instant,
        is_return: impl Fn(&OrderFacts, &OrderFacts) -> bool,
    ) -> Option<&OrderFacts> {
        let on_machine = order.appliance.and_then(|appliance| self.on_machine.get(&appliance));
        let later =
            on_machine.into_iter().flatten().chain(self.following.get(&order.id).into_iter().flatten());
        later.map(|place| &self.orders[*place]).find(|later| {
            later.id != order.id
                && later.received_at > restored
                && later.received_at <= restored + self.days
                && is_return(order, later)
        })
    }

    /// Of the moment of the call, up to the first arrival.
    fn response(&self, order: &OrderFacts) -> Option<(Instant, Reading)> {
        if order.kind != OrderKind::Corrective {
            return None;
        }
        let received = order.received_at;
        let reading = match (order.first_arrival(), order.closed_at) {
            (Some(arrived), _) => lasts(received, arrived, true),
            (None, Some(_)) => Reading::LeftOut(unattended(order)),
            (None, None) => lasts(received, self.until, false),
        };
        Some((received, reading))
    }

    /// Of the moment of the call, up to the verified restoration.
    fn restoration(&self, order: &OrderFacts) -> Option<(Instant, Reading)> {
        if order.kind != OrderKind::Corrective {
            return None;
        }
        let received = order.received_at;
        let reading = match (order.restored_at, order.closed_at) {
            (Some(restored), _) => lasts(received, restored, true),
            (None, Some(_)) if order.first_arrival().is_none() => Reading::LeftOut(unattended(order)),
            (None, Some(_)) => Reading::LeftOut(LeftOut::NotRestored),
            (None, None) => lasts(received, self.until, false),
        };
        Some((received, reading))
    }

    /// Each wait of the moment when it began.
    fn waits(&self, order: &OrderFacts, reason: WaitingReason) -> Vec<(Instant, Reading)> {
        if order.kind != OrderKind::Corrective {
            return Vec::new();
        }
        let waits = order.waits.iter().filter(|wait| wait.reason == reason);
        waits
            .map(|wait| {
                let reading = match wait.to_at.or(order.closed_at) {
                    Some(end) => lasts(wait.from_at, end, true),
                    None => lasts(wait.from_at, self.until, false),
                };
                (wait.from_at, reading)
            })
            .collect()
    }
}

fn counts(is_part: bool) -> Reading {
    Reading::Counts { part: u32::from(is_part), whole: 1 }
}

fn lasts(from: Instant, to: Instant, ended: bool) -> Reading {
    let hours = (to - from).num_milliseconds() as f64 / 3_600_000.0;
    Reading::Lasts(Duration { hours: hours.max(0.0), ended })
}

/// Why nobody came.
fn unattended(order: &OrderFacts) -> LeftOut {
    match order.outcome {
        Some(Outcome::Cancelled) => LeftOut::Cancelled,
        Some(Outcome::SolvedByPhone) => LeftOut::SolvedByPhone,
        _ => LeftOut::NotAttended,
    }
}

/// Of the moment when somebody had to be there. Who is not there by then has missed it, open or not.
fn promise(order: &OrderFacts) -> Option<(Instant, Reading)> {
    if order.kind != OrderKind::Corrective {
        return None;
    }
    let ended_alone = order.first_arrival().is_none() && order.closed_at.is_some();
    let why = if order.promised.is_none() {
        Some(LeftOut::NothingPromised)
    } else if ended_alone {
        Some(unattended(order))
    } else {
        None
    };
    match (order.due_at(), why) {
        (due, Some(why)) => Some((due.unwrap_or(order.received_at), Reading::LeftOut(why))),
        (None, None) => {
            // Somebody came while the clock stood: that is in time, of the day of arrival.
            let Some(arrived) = order.first_arrival() else {
                return Some((order.received_at, Reading::LeftOut(LeftOut::ClockPaused)));
            };
            Some((arrived, counts(true)))
        }
        (Some(due), None) => Some((due, counts(order.first_arrival().is_some_and(|at| at <= due)))),
    }
}

/// Same symptom, same position, or an order that was opened to follow the first.
fn is_alike(order: &OrderFacts, later: &OrderFacts) -> bool {
    later.follows == Some(order.id)
        || order.faults.iter().any(|position| later.faults.contains(position))
        || order.symptoms.iter().any(|symptom| later.symptoms.contains(symptom))
}

/// When a corrective order that somebody attended was closed, and why it does not count.
fn attended_end(order: &OrderFacts) -> Option<(Instant, Option<Reading>)> {
    let closed = order.closed_at?;
    let left_out = if order.kind != OrderKind::Corrective {
        Some(LeftOut::NotCorrective)
    } else if order.attended.is_empty() {
        Some(unattended(order))
    } else {
        match order.outcome {
            Some(Outcome::Cancelled) => Some(LeftOut::Cancelled),
            Some(Outcome::SolvedByPhone) => Some(LeftOut::SolvedByPhone),
            Some(Outcome::ExplainedUse) => Some(LeftOut::ExplainedUse),
            _ => None,
        }
    };
    Some((closed, left_out.map(Reading::LeftOut)))
}

/// When a corrective order was closed as repaired.
fn repaired_end(order: &OrderFacts) -> Option<Instant> {
    let is_repaired = order.kind == OrderKind::Corrective && order.outcome == Some(Outcome::Repaired);
    order.closed_at.filter(|_| is_repaired)
}

/// Lines of a corrective order of the moment when it was closed, one by one.
fn of_parts(
    order: &OrderFacts,
    is_part: impl Fn(&super::order::Part) -> Option<bool>,
) -> Vec<(Instant, Reading)> {
    let Some(closed) = order.closed_at.filter(|_| order.kind == OrderKind::Corrective) else {
        return Vec::new();
    };
    order.parts.iter().filter_map(is_part).map(|is_part| (closed, counts(is_part))).collect()
}

/// Visits after the first, of an attended order that was closed.
fn visits(order: &OrderFacts) -> Option<(Instant, Reading)> {
    let (closed, _) = attended_end(order)?;
    let reading = if order.kind != OrderKind::Corrective {
        Reading::LeftOut(LeftOut::NotCorrective)
    } else if order.attended.is_empty() {
        Reading::LeftOut(unattended(order))
    } else {
        Reading::Counts { part: u32::try_from(order.attended.len() - 1).unwrap_or(u32::MAX), whole: 1 }
    };
    Some((closed, reading))
}

/// The time on site of a restored order, of the moment of its restoration.
fn on_site(order: &OrderFacts) -> Option<(Instant, Reading)> {
    let restored = order.restored_at?;
    if order.kind != OrderKind::Corrective {
        return Some((restored, Reading::LeftOut(LeftOut::NotCorrective)));
    }
    if order.attended.is_empty() {
        return Some((restored, Reading::LeftOut(LeftOut::NotAttended)));
    }
    let stayed = order.attended.iter().filter_map(|visit| Some(visit.left_at? - visit.arrived_at));
    let hours = stayed.sum::<TimeDelta>().num_milliseconds() as f64 / 3_600_000.0;
    // Somebody is there still: so long at the least.
    let ended = order.attended.iter().all(|visit| visit.left_at.is_some());
    Some((restored, Reading::Lasts(Duration { hours, ended })))
}
