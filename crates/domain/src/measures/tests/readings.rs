//! What each measure says of an order, and the traps of each.

use chrono::TimeDelta;

use super::story::{DAY, NO, YES, at, id, left_out, of_first, order};
use crate::measures::{Attendance, Duration, LeftOut, Measure, OrderFacts, Part, Reading, Wait};
use crate::text::Key;
use crate::vocabulary::Position;
use crate::work::{OrderKind, Outcome, PartLineState, WaitingReason};

fn mended(number: u32, received: i64) -> OrderFacts {
    order(number, received)
        .visited(received + 2, received + 4)
        .found(Position::FillValve)
        .restored(received + 3)
}

fn first_visit(orders: &[OrderFacts]) -> Vec<Reading> {
    of_first(Measure::MendedAtFirstVisit, orders, 30, 60, None)
}

#[test]
fn mended_at_the_first_visit_is_strict() {
    assert_eq!(first_visit(&[mended(1, 0)]), [YES]);
    assert_eq!(first_visit(&[mended(1, 0), mended(2, 10 * DAY)]), [NO], "the same position came back");
    assert_eq!(first_visit(&[mended(1, 0), mended(2, 40 * DAY)]), [YES], "after the days");
    let other = OrderFacts { faults: vec![Position::DoorGasket], ..mended(2, 10 * DAY) };
    assert_eq!(first_visit(&[mended(1, 0), other.clone()]), [YES], "another issue");
    let hidden = OrderFacts { follows: Some(id(1)), ..other };
    assert_eq!(first_visit(&[mended(1, 0), hidden]), [NO], "the second trip hidden in another order");
    assert_eq!(first_visit(&[mended(1, 0).visited(30, 31)]), [NO], "a second visit");
    let not_found = OrderFacts { faults: Vec::new(), ..mended(1, 0) };
    assert_eq!(first_visit(&[not_found]), [NO], "not diagnosed");
    let late = OrderFacts { restored_at: Some(at(9)), ..mended(1, 0) };
    assert_eq!(first_visit(&[late]), [NO], "restored after the visit");
    let no_fault = order(1, 0).visited(2, 3).ended(Outcome::NoFaultFound, 4);
    assert_eq!(first_visit(&[no_fault]), [NO], "nothing was mended");
    let symptom = |order: OrderFacts| OrderFacts { symptoms: vec![Key::new("no_heat").unwrap()], ..order };
    let again = symptom(order(2, 20 * DAY));
    assert_eq!(first_visit(&[symptom(mended(1, 0)), again]), [NO], "the same symptom");
}

#[test]
fn two_technicians_at_once_are_one_visit() {
    let visit = |from: i64, to: i64, person: u32| Attendance {
        arrived_at: at(from),
        left_at: Some(at(to)),
        people: vec![id(person)],
    };
    let together = Attendance::together(vec![visit(5, 9, 2), visit(4, 6, 1), visit(9, 10, 1)]);
    assert_eq!(together.len(), 2, "who comes as the last one leaves comes anew");
    assert_eq!((together[0].arrived_at, together[0].left_at), (at(4), Some(at(9))));
    assert_eq!(together[0].people, [id(1), id(2)]);
}

#[test]
fn what_does_not_belong_to_the_first_visit_says_why() {
    let planned = OrderFacts { kind: OrderKind::Planned, ..mended(1, 0) };
    assert_eq!(first_visit(&[planned]), left_out(LeftOut::NotCorrective));
    let cancelled = order(1, 0).visited(2, 3).ended(Outcome::Cancelled, 4);
    assert_eq!(first_visit(&[cancelled]), left_out(LeftOut::Cancelled));
    let unknown = OrderFacts { appliance: None, ..mended(1, 0) };
    assert_eq!(first_visit(&[unknown]), left_out(LeftOut::MachineUnknown));
    assert_eq!(first_visit(&[order(1, 0)]), []);
    let of = |known| of_first(Measure::MendedAtFirstVisit, &[mended(1, 0)], 30, known, None);
    assert_eq!(of(30), [Reading::Immature], "the visit ended four hours into the first of thirty-one days");
    assert_eq!(of(31), [YES]);
}

#[test]
fn a_return_is_told_by_machine_by_likeness_and_by_whose_fault_it_was() {
    let of = |measure, orders: &[OrderFacts]| of_first(measure, orders, 30, 60, None);
    let gasket = OrderFacts { faults: vec![Position::DoorGasket], ..mended(2, 10 * DAY) };
    let pair = [mended(1, 0), gasket.clone()];
    assert_eq!(of(Measure::CalledAgain, &pair), [YES]);
    assert_eq!(of(Measure::CameBack, &pair), [NO]);
    assert_eq!(of(Measure::CameBackFromOurRepair, &pair), [NO]);
    let ours = OrderFacts { from_our_repair: true, ..gasket.clone() };
    assert_eq!(of(Measure::CameBackFromOurRepair, &[mended(1, 0), ours]), [YES]);
    let elsewhere = OrderFacts { appliance: Some(id(2)), ..gasket.clone() };
    assert_eq!(of(Measure::CalledAgain, &[mended(1, 0), elsewhere]), [NO], "another machine of the kitchen");
    let withdrawn = order(2, 10 * DAY).ended(Outcome::Cancelled, 11 * DAY);
    assert_eq!(of(Measure::CalledAgain, &[mended(1, 0), withdrawn]), [NO], "a call that was cancelled");
    let planned = OrderFacts { kind: OrderKind::Planned, ..gasket };
    assert_eq!(of(Measure::CalledAgain, &[mended(1, 0), planned]), [NO]);
    assert_eq!(of(Measure::CalledAgain, &[mended(2, 0)]), [NO], "its own call is no return");
}

#[test]
fn a_machine_that_was_taken_out_cannot_come_back() {
    let of = |orders: &[OrderFacts], removed| of_first(Measure::CalledAgain, orders, 30, 60, removed);
    assert_eq!(of(&[mended(1, 0)], Some(10 * DAY)), left_out(LeftOut::MachineRemoved));
    assert_eq!(of(&[mended(1, 0)], Some(50 * DAY)), [NO]);
    assert_eq!(of(&[mended(1, 0), mended(2, 5 * DAY)], Some(10 * DAY)), [YES]);
}

#[test]
fn a_promise_that_is_over_is_missed_whoever_is_still_to_come() {
    let of = |order: OrderFacts| of_first(Measure::ReachedAsPromised, &[order], 30, 60, None);
    assert_eq!(of(order(1, 0).visited(72, 73)), [YES]);
    assert_eq!(of(order(1, 0).visited(73, 74)), [NO]);
    assert_eq!(of(order(1, 0)), [NO], "open and overdue");
    let wait = |from, to: Option<i64>, pauses_clock| Wait {
        reason: WaitingReason::Access,
        from_at: at(from),
        to_at: to.map(at),
        pauses_clock,
    };
    let paused = |waits| OrderFacts { waits, ..order(1, 0).visited(80, 81) };
    assert_eq!(of(paused(vec![wait(10, Some(20), true)])), [YES]);
    assert_eq!(of(paused(vec![wait(10, Some(20), false)])), [NO], "what is ours pauses nothing");
    assert_eq!(
        of(paused(vec![wait(10, Some(16), true), wait(12, Some(17), true)])),
        [NO],
        "overlapping pauses count once"
    );
    assert_eq!(of(paused(vec![wait(75, Some(90), true)])), [NO], "it was over before the pause");
    assert_eq!(of(paused(vec![wait(10, None, true)])), [YES]);
    let standing = OrderFacts { waits: vec![wait(10, None, true)], ..order(1, 0) };
    assert_eq!(of(standing), left_out(LeftOut::ClockPaused));
    assert_eq!(of(order(1, 0).ended(Outcome::SolvedByPhone, 1)), left_out(LeftOut::SolvedByPhone));
    let planned = OrderFacts { promised: None, ..order(1, 0) };
    assert_eq!(of(planned), left_out(LeftOut::NothingPromised));
}

#[test]
fn no_fault_found_is_of_those_attended_and_is_neither_use_nor_telephone() {
    let of = |order: OrderFacts| of_first(Measure::NoFaultFound, &[order], 30, 60, None);
    let visited = || order(1, 0).visited(2, 3);
    assert_eq!(of(visited().ended(Outcome::NoFaultFound, 4)), [YES]);
    assert_eq!(of(visited().ended(Outcome::Referred, 4)), [YES], "no fault was confirmed");
    assert_eq!(of(visited().found(Position::WashPump).ended(Outcome::Declined, 4)), [NO]);
    assert_eq!(of(mended(1, 0)), [NO]);
    assert_eq!(of(visited().ended(Outcome::ExplainedUse, 4)), left_out(LeftOut::ExplainedUse));
    assert_eq!(of(order(1, 0).ended(Outcome::SolvedByPhone, 4)), left_out(LeftOut::SolvedByPhone));
    assert_eq!(of(order(1, 0).ended(Outcome::Referred, 4)), left_out(LeftOut::NotAttended));
    assert_eq!(of(visited()), [], "not closed");
}

#[test]
fn parts_and_proofs_are_counted_when_the_order_is_closed() {
    let part = |state, position| Part { state, position };
    let parts = vec![
        part(PartLineState::Fitted, Some(Position::FillValve)),
        part(PartLineState::Fitted, Some(Position::DoorGasket)),
        part(PartLineState::ReturnedUnused, Some(Position::FillValve)),
        part(PartLineState::Withdrawn, None),
        part(PartLineState::Fitted, None),
    ];
    let order = OrderFacts { parts, ..mended(1, 0) };
    let of = |measure, order: &OrderFacts| of_first(measure, std::slice::from_ref(order), 30, 60, None);
    assert_eq!(of(Measure::ReturnedUnused, &order), [NO, NO, YES, NO]);
    assert_eq!(of(Measure::FittedNotTheCause, &order), [NO, YES]);
    assert_eq!(of(Measure::ProvenInFull, &order), [YES]);
    assert_eq!(of(Measure::ProvenInFull, &OrderFacts { waived: true, ..order.clone() }), [NO]);
    assert_eq!(of(Measure::VisitsPerOrder, &order.visited(9, 11)), [Reading::Counts { part: 1, whole: 1 }]);
}

#[test]
fn durations_run_from_the_call_and_open_ones_are_open() {
    let of = |measure, order: &OrderFacts| of_first(measure, std::slice::from_ref(order), 30, 60, None);
    let lasts = |hours, ended| vec![Reading::Lasts(Duration { hours, ended })];
    let done = mended(1, 0).visited(30, 33);
    assert_eq!(of(Measure::Response, &done), lasts(2.0, true));
    assert_eq!(of(Measure::Restoration, &done), lasts(3.0, true));
    assert_eq!(of(Measure::OnSite, &done), lasts(5.0, true));
    let open = order(1, 0);
    assert_eq!(of(Measure::Response, &open), lasts(1440.0, false));
    assert_eq!(of(Measure::Restoration, &open), lasts(1440.0, false));
    assert_eq!(of(Measure::OnSite, &open), []);
    let phone = open.clone().ended(Outcome::SolvedByPhone, 1);
    assert_eq!(of(Measure::Response, &phone), left_out(LeftOut::SolvedByPhone));
    assert_eq!(of(Measure::Restoration, &phone), left_out(LeftOut::SolvedByPhone));
    let declined = open.clone().visited(3, 4).ended(Outcome::Declined, 5);
    assert_eq!(of(Measure::Restoration, &declined), left_out(LeftOut::NotRestored));
    let wait = |reason, from, to: Option<i64>| Wait {
        reason,
        from_at: at(from),
        to_at: to.map(at),
        pauses_clock: false,
    };
    let waits = vec![
        wait(WaitingReason::Part, 10, Some(58)),
        wait(WaitingReason::Part, 60, None),
        wait(WaitingReason::Approval, 5, Some(6)),
    ];
    let waiting = OrderFacts { waits, ..open };
    let (parts, approval) =
        (of(Measure::WaitingForParts, &waiting), of(Measure::WaitingForApproval, &waiting));
    assert_eq!(parts, [lasts(48.0, true), lasts(1380.0, false)].concat());
    assert_eq!(approval, lasts(1.0, true));
}

#[test]
fn what_happened_later_is_not_known() {
    let later = mended(1, 0).visited(10 * DAY, 10 * DAY + 2).as_known(at(1) + TimeDelta::minutes(90));
    assert_eq!((later.attended.len(), later.restored_at, later.outcome), (1, None, None));
    assert_eq!(later.attended[0].left_at, None);
}
