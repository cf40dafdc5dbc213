//! The faults that recur in one kitchen, counted from what was confirmed there.
//!
//! Rules (the project's own definitions; no standard fixes them):
//! - A *failure* is a fault confirmed by a corrective order, dated by when it was reported. Several
//!   findings of one fault in one order, and so every return visit of that order, are one failure.
//! - Planned work and installation are no failures and no repeats.
//! - An order for a fault that was **not** verifiably restored since it was last reported *continues*
//!   that failure: it is shown, and is neither a new failure nor a repeat.
//! - A failure is a *repeat within D days* if the same fault of the same appliance was verifiably
//!   restored, by another order, at most D days before. In a chain each restoration is the index of
//!   what follows it; the event that it mended never counts for it.
//! - Returns with no fault confirmed are a stratum of their own.
//! - A day is 24 hours; the window of D days at `as_of` is (`as_of` − D, `as_of`].

use std::collections::{BTreeMap, BTreeSet};

use chrono::TimeDelta;
use serde::{Deserialize, Serialize};

use super::WINDOW_DAYS;
use crate::id::{ApplianceId, WorkOrderId};
use crate::text::Key;
use crate::time::Timestamp;
use crate::vocabulary::Position;

/// One confirmed finding of an order at the kitchen, or the confirmation that it found no fault.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Confirmation {
    pub work_order: WorkOrderId,
    pub appliance: ApplianceId,
    pub occasion: Occasion,
    pub found: Found,
    /// When the failure was reported: the call, or the opening of an order without one.
    pub reported_at: Timestamp,
    pub confirmed_at: Timestamp,
    /// When the order verifiably restored the appliance; none while it has not.
    pub restored_at: Option<Timestamp>,
}

/// Why somebody went there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Occasion {
    Corrective,
    Planned,
    Installation,
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Found {
    Fault { position: Position, failure_mode: Key },
    NoFault,
}

/// The recurring faults of one kitchen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RecurringFaults {
    pub as_of: Timestamp,
    /// By position and failure mode, most occurrences in the longest window first.
    pub by_fault: Vec<Recurrence>,
    /// By position, whatever the failure mode: also sees a fault that comes back in another manner.
    pub by_position: Vec<Recurrence>,
    /// Corrective orders that confirmed no fault; `repeats` are those at most D days after any
    /// verified restoration of the same appliance.
    pub no_fault: Vec<WindowCount>,
    pub left_out: LeftOut,
}

/// One fault of the kitchen, with a count for each of [`WINDOW_DAYS`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Recurrence {
    pub position: Position,
    /// None where all failure modes of the position are counted together.
    pub failure_mode: Option<Key>,
    pub windows: Vec<WindowCount>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WindowCount {
    pub days: u16,
    /// Times that it was reported anew.
    pub occurrences: u32,
    /// Of the occurrences, those within `days` of a verified restoration of the same fault.
    pub repeats: u32,
    /// Orders for a failure that was not verifiably restored since it was reported before.
    pub continued: u32,
    pub appliances: u32,
    /// Two occurrences or more: the fault recurs in this kitchen within this window.
    pub recurs: bool,
    /// The orders behind the counts, oldest first.
    pub orders: Vec<WorkOrderId>,
    /// Which order came back on which.
    pub links: Vec<Link>,
}

/// An order and the earlier one that it came back on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Link {
    pub earlier: WorkOrderId,
    pub later: WorkOrderId,
    pub appliance: ApplianceId,
    /// From the verified restoration to the next report; none if the earlier order restored nothing.
    pub days_between: Option<f64>,
}

/// What was given and not counted, and why.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeftOut {
    pub planned: u32,
    pub installation: u32,
    /// Further findings of a fault that its order had already confirmed.
    pub same_order: u32,
    /// Reported or confirmed after `as_of`.
    pub after_as_of: u32,
    /// Orders restored before they were reported: their times are wrong and want correcting.
    pub times_out_of_order: BTreeSet<WorkOrderId>,
}

/// Counts the recurring faults of one kitchen as they stood at `as_of`.
///
/// `confirmations` are the current (not superseded) confirmations of the kitchen's appliances, in any
/// order; give at least two years of them, because a repeat near the window's start refers to a
/// restoration before it. What was not yet reported, confirmed or restored at `as_of` is unknown to
/// the answer, so a past report can be made again.
///
/// Source: the rules at the head of this module, common practice in counting repeat failures; no standard.
pub fn recurring_faults(confirmations: &[Confirmation], as_of: Timestamp) -> RecurringFaults {
    let mut left_out = LeftOut::default();
    let counted = select(confirmations, as_of, &mut left_out);
    let events: BTreeSet<Event> =
        counted.iter().map(|confirmation| Event::new(confirmation, as_of)).collect();
    left_out.same_order = (counted.len() - events.len()) as u32;

    let restorations: Vec<Event> =
        events.iter().filter(|event| event.restored_at.is_some()).cloned().collect();
    let no_fault: Vec<Event> = events.iter().filter(|event| event.found == Found::NoFault).cloned().collect();
    RecurringFaults {
        as_of,
        by_fault: recurrences(&events, as_of, |position, failure_mode| {
            (position, Some(failure_mode.clone()))
        }),
        by_position: recurrences(&events, as_of, |position, _| (position, None)),
        no_fault: windows(&no_fault, &restorations, as_of),
        left_out,
    }
}

fn select<'a>(
    confirmations: &'a [Confirmation],
    as_of: Timestamp,
    left_out: &mut LeftOut,
) -> Vec<&'a Confirmation> {
    let mut counted = Vec::with_capacity(confirmations.len());
    for confirmation in confirmations {
        let restored_too_early = confirmation.restored_at.is_some_and(|at| at < confirmation.reported_at);
        if confirmation.reported_at > as_of || confirmation.confirmed_at > as_of {
            left_out.after_as_of += 1;
        } else if restored_too_early {
            left_out.times_out_of_order.insert(confirmation.work_order);
        } else {
            match confirmation.occasion {
                Occasion::Planned => left_out.planned += 1,
                Occasion::Installation => left_out.installation += 1,
                Occasion::Corrective => counted.push(confirmation),
            }
        }
    }
    counted
}

/// What an order confirmed about an appliance, once. The order of the fields is the order of time.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Event {
    reported_at: Timestamp,
    work_order: WorkOrderId,
    appliance: ApplianceId,
    found: Found,
    restored_at: Option<Timestamp>,
}

impl Event {
    fn new(confirmation: &Confirmation, as_of: Timestamp) -> Self {
        Self {
            reported_at: confirmation.reported_at,
            work_order: confirmation.work_order,
            appliance: confirmation.appliance,
            found: confirmation.found.clone(),
            restored_at: confirmation.restored_at.filter(|at| *at <= as_of),
        }
    }
}

fn recurrences(
    events: &BTreeSet<Event>,
    as_of: Timestamp,
    group: impl Fn(Position, &Key) -> (Position, Option<Key>),
) -> Vec<Recurrence> {
    let mut groups: BTreeMap<(Position, Option<Key>), Vec<Event>> = BTreeMap::new();
    for event in events {
        if let Found::Fault { position, failure_mode } = &event.found {
            let of_group = groups.entry(group(*position, failure_mode)).or_default();
            let known =
                |other: &Event| (other.work_order, other.appliance) == (event.work_order, event.appliance);
            if !of_group.iter().any(known) {
                of_group.push(event.clone());
            }
        }
    }
    let mut recurrences: Vec<_> = groups
        .into_iter()
        .map(|((position, failure_mode), events)| Recurrence {
            position,
            failure_mode,
            windows: windows(&events, &events, as_of),
        })
        .filter(|recurrence| recurrence.windows.iter().any(|window| !window.orders.is_empty()))
        .collect();
    recurrences.sort_by_key(|recurrence| {
        std::cmp::Reverse(recurrence.windows.last().map(|longest| (longest.occurrences, longest.repeats)))
    });
    recurrences
}

/// What came before an event on the same appliance, among the events that count as the same.
enum Before {
    Nothing,
    /// It was verifiably restored, and then this event was reported.
    Restored(Link),
    /// It was reported and not verifiably restored.
    Unmended(Link),
}

fn windows(events: &[Event], earlier: &[Event], as_of: Timestamp) -> Vec<WindowCount> {
    let placed: Vec<_> = events.iter().map(|event| (event, before(event, earlier))).collect();
    WINDOW_DAYS.iter().map(|&days| count(&placed, days, as_of)).collect()
}

fn before(event: &Event, earlier: &[Event]) -> Before {
    let others = || {
        earlier.iter().filter(|other| {
            other.appliance == event.appliance
                && other.work_order != event.work_order
                && (other.reported_at, other.work_order) < (event.reported_at, event.work_order)
        })
    };
    let link = |other: &Event, days_between| Link {
        earlier: other.work_order,
        later: event.work_order,
        appliance: event.appliance,
        days_between,
    };
    let Some(last) = others().max_by_key(|other| (other.reported_at, other.work_order)) else {
        return Before::Nothing;
    };
    let restored = others()
        .filter_map(|other| other.restored_at.map(|at| (at, other)))
        .filter(|(at, _)| *at <= event.reported_at)
        .max_by_key(|(at, other)| (*at, other.work_order));
    match restored {
        // An order reported later than the last restored one may still have been restored by it.
        Some((at, index)) if at >= last.reported_at => {
            Before::Restored(link(index, Some(days(event.reported_at.instant() - at.instant()))))
        }
        _ => Before::Unmended(link(last, None)),
    }
}

fn count(placed: &[(&Event, Before)], length: u16, as_of: Timestamp) -> WindowCount {
    let from = as_of.instant() - TimeDelta::days(length.into());
    let mut window = WindowCount {
        days: length,
        occurrences: 0,
        repeats: 0,
        continued: 0,
        appliances: 0,
        recurs: false,
        orders: Vec::new(),
        links: Vec::new(),
    };
    let mut appliances = BTreeSet::new();
    for (event, before) in placed.iter().filter(|(event, _)| event.reported_at.instant() > from) {
        appliances.insert(event.appliance);
        window.orders.push(event.work_order);
        match before {
            Before::Nothing => window.occurrences += 1,
            Before::Restored(link) => {
                window.occurrences += 1;
                if link.days_between.is_some_and(|between| between <= f64::from(length)) {
                    window.repeats += 1;
                    window.links.push(link.clone());
                }
            }
            Before::Unmended(link) => {
                window.continued += 1;
                window.links.push(link.clone());
            }
        }
    }
    window.appliances = appliances.len() as u32;
    window.recurs = window.occurrences >= 2;
    window
}

fn days(span: TimeDelta) -> f64 {
    span.num_milliseconds() as f64 / 86_400_000.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn id<T: std::str::FromStr<Err: std::fmt::Debug>>(number: u8) -> T {
        format!("01890a5d-ac96-774b-bcce-b3020000{number:04x}").parse().unwrap()
    }

    /// Hours after the start of 2026.
    fn at(hours: i64) -> Timestamp {
        let start: Timestamp = "2026-01-01T00:00:00Z".parse().unwrap();
        Timestamp::new(start.instant() + TimeDelta::hours(hours)).unwrap()
    }

    fn fault(position: Position, failure_mode: &str) -> Found {
        Found::Fault { position, failure_mode: Key::new(failure_mode).unwrap() }
    }

    /// A slow fill valve of appliance 1, reported and restored on these days of 2026.
    fn slow_valve(work_order: u8, reported_day: i64, restored_day: Option<i64>) -> Confirmation {
        Confirmation {
            work_order: id(work_order),
            appliance: id(1),
            occasion: Occasion::Corrective,
            found: fault(Position::FillValve, "slow"),
            reported_at: at(24 * reported_day),
            confirmed_at: at(24 * reported_day + 5),
            restored_at: restored_day.map(|day| at(24 * day + 6)),
        }
    }

    /// Occurrences, repeats and continued of the only fault, in each window.
    fn only_fault(confirmations: &[Confirmation], as_of_day: i64) -> Vec<(u32, u32, u32)> {
        let faults = recurring_faults(confirmations, at(24 * as_of_day)).by_fault;
        assert_eq!(faults.len(), 1, "{faults:?}");
        faults[0].windows.iter().map(|w| (w.occurrences, w.repeats, w.continued)).collect()
    }

    #[test]
    fn a_chain_counts_each_return_once_and_never_its_own_event() {
        let chain =
            [slow_valve(1, 300, Some(300)), slow_valve(2, 305, Some(305)), slow_valve(3, 330, Some(331))];
        assert_eq!(only_fault(&chain, 331), [(1, 0, 0), (2, 2, 0), (3, 2, 0), (3, 2, 0)]);
        let report = recurring_faults(&chain, at(24 * 331));
        let longest = report.by_fault[0].windows.last().unwrap();
        let pairs: Vec<_> = longest.links.iter().map(|link| (link.earlier, link.later)).collect();
        assert_eq!(pairs, [(id(1), id(2)), (id(2), id(3))]);
        assert!((longest.links[0].days_between.unwrap() - 4.75).abs() < 1e-12);
    }

    #[test]
    fn an_order_alone_never_repeats_itself() {
        let mut visits = vec![slow_valve(1, 10, Some(12))];
        visits.push(Confirmation { confirmed_at: at(24 * 12), ..visits[0].clone() });
        assert_eq!(only_fault(&visits, 20), [(0, 0, 0), (1, 0, 0), (1, 0, 0), (1, 0, 0)]);
        assert_eq!(recurring_faults(&visits, at(24 * 20)).left_out.same_order, 1);
    }

    #[test]
    fn what_was_not_restored_continues_and_is_no_repeat() {
        assert_eq!(only_fault(&[slow_valve(1, 10, None), slow_valve(2, 12, Some(13))], 14)[0], (1, 0, 1));
        // Two calls for one failure, restored by the first order; the third call is then a repeat.
        let twice = [slow_valve(1, 10, Some(12)), slow_valve(2, 11, None), slow_valve(3, 15, None)];
        assert_eq!(only_fault(&twice, 16)[0], (2, 1, 1));
    }

    #[test]
    fn planned_work_installation_and_the_future_are_left_out() {
        let mut all = vec![slow_valve(1, 10, Some(10)), slow_valve(2, 12, None), slow_valve(3, 13, None)];
        all[1].occasion = Occasion::Planned;
        all[2].occasion = Occasion::Installation;
        all.push(slow_valve(4, 40, None));
        all.push(Confirmation { restored_at: Some(at(0)), ..slow_valve(5, 14, None) });
        let report = recurring_faults(&all, at(24 * 20));
        assert_eq!(
            report.left_out,
            LeftOut {
                planned: 1,
                installation: 1,
                same_order: 0,
                after_as_of: 1,
                times_out_of_order: BTreeSet::from([id(5)]),
            }
        );
        assert_eq!(only_fault(&all, 20)[3], (1, 0, 0));
    }

    #[test]
    fn a_restoration_after_as_of_is_not_yet_known() {
        let chain = [slow_valve(1, 10, Some(20)), slow_valve(2, 15, None)];
        assert_eq!(only_fault(&chain, 16)[0], (1, 0, 1));
    }

    #[test]
    fn the_window_is_open_at_its_start_and_closed_at_as_of() {
        let event = [slow_valve(1, 10, None)];
        let occurrences = |as_of| {
            let report = recurring_faults(&event, as_of);
            report.by_fault.first().map_or(0, |fault| fault.windows[0].occurrences)
        };
        assert_eq!(occurrences(at(24 * 10 + 4)), 0, "not yet confirmed");
        assert_eq!(occurrences(at(24 * 17 - 1)), 1);
        assert_eq!(occurrences(at(24 * 17)), 0);
    }

    #[test]
    fn the_same_fault_on_two_appliances_recurs_without_a_repeat() {
        let second = Confirmation { appliance: id(2), ..slow_valve(2, 12, None) };
        let report = recurring_faults(&[slow_valve(1, 10, Some(10)), second], at(24 * 13));
        let window = &report.by_fault[0].windows[0];
        assert_eq!((window.occurrences, window.repeats, window.appliances, window.recurs), (2, 0, 2, true));
    }

    #[test]
    fn another_manner_of_failing_repeats_the_position_and_not_the_fault() {
        let other =
            Confirmation { found: fault(Position::FillValve, "sticks_open"), ..slow_valve(2, 12, None) };
        let report = recurring_faults(&[slow_valve(1, 10, Some(10)), other], at(24 * 13));
        assert_eq!(report.by_fault.iter().map(|fault| fault.windows[0].repeats).sum::<u32>(), 0);
        assert_eq!(report.by_position[0].windows[0].repeats, 1);
    }

    #[test]
    fn a_return_without_a_fault_is_a_stratum_of_its_own() {
        let nothing = Confirmation { found: Found::NoFault, ..slow_valve(2, 20, None) };
        let report = recurring_faults(&[slow_valve(1, 10, Some(10)), nothing], at(24 * 21));
        assert_eq!(report.by_fault[0].windows[3].occurrences, 1);
        let repeats: Vec<_> = report.no_fault.iter().map(|w| (w.occurrences, w.repeats)).collect();
        assert_eq!(repeats, [(1, 0), (1, 1), (1, 1), (1, 1)]);
    }

    proptest! {
        #[test]
        fn no_order_of_arrival_changes_the_counts(
            days in proptest::collection::vec((0i64..60, 0i64..10, any::<bool>(), 1u8..4), 1..12),
            seed in any::<u64>(),
        ) {
            let confirmations: Vec<_> = days
                .iter()
                .enumerate()
                .map(|(i, (day, took, restored, appliance))| Confirmation {
                    appliance: id(*appliance),
                    ..slow_valve(i as u8 + 1, *day, restored.then_some(day + took))
                })
                .collect();
            let mut shuffled = confirmations.clone();
            let length = shuffled.len();
            shuffled.rotate_left(seed as usize % length);
            if seed % 2 == 0 {
                shuffled.reverse();
            }
            let report = recurring_faults(&confirmations, at(24 * 61));
            prop_assert_eq!(&report, &recurring_faults(&shuffled, at(24 * 61)));
            for fault in &report.by_fault {
                for pair in fault.windows.windows(2) {
                    prop_assert!(pair[0].occurrences <= pair[1].occurrences && pair[0].repeats <= pair[1].repeats);
                }
                let longest = fault.windows.last().unwrap();
                prop_assert_eq!((longest.occurrences + longest.continued) as usize, confirmations.len());
            }
        }
    }
}
