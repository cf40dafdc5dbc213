//! Whose turn it is, and the one move that comes next.

use chrono::TimeDelta;
use domain::time::Timestamp;
use domain::work::{ApplianceState, OrderState, PartLineState, VisitState, VisitTimes, WaitingReason};
use store::today::OpenOrder;

/// Who must act next. Stands in the order in which Today shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Turn {
    We,
    Customer,
    Supplier,
    OnSite,
    Planned,
}

impl Turn {
    pub const ALL: [Self; 5] = [Self::We, Self::Customer, Self::Supplier, Self::OnSite, Self::Planned];
}

/// The one move that comes next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NextMove {
    SendSomebody,
    Assess,
    BookVisit,
    AskAboutVisit,
    FindSecondPerson,
    DecideWaiver,
    MakeQuote,
    RingAboutQuote,
    RingAboutAccess,
    RingBack,
    /// It was promised for a time that has come.
    RingBackNow,
    OrderParts,
    AskSupplier,
    AwaitArrival,
    AwaitVisit,
    ReportRepaired,
    Prove,
    Close,
}

/// A visit whose people have not come so long after its time is asked about.
const LATE: TimeDelta = TimeDelta::minutes(15);

/// Whoever is on site for so long has left and did not say so.
const LONG: TimeDelta = TimeDelta::hours(16);

fn has_stayed(order: &OpenOrder, now: Timestamp) -> bool {
    let arrived = order.visit.as_ref().and_then(|visit| visit.arrived_at);
    arrived.is_some_and(|arrived| arrived.instant() + LONG < now.instant())
}

/// Whose turn it is and what comes next. Somebody who was promised to be rung back by now goes before all else; then the first thing that is waited for decides; without one the visit does, then how far the
/// order has come.
pub fn turn_of(order: &OpenOrder, now: Timestamp) -> (Turn, NextMove) {
    if order.ring_back_at.is_some_and(|at| at <= now) {
        return (Turn::We, NextMove::RingBackNow);
    }
    let visit = order.visit.as_ref();
    match visit.map(VisitTimes::state) {
        Some(VisitState::OnSite) if has_stayed(order, now) => return (Turn::We, NextMove::AskAboutVisit),
        Some(VisitState::OnSite) => return (Turn::OnSite, on_site(order.state)),
        Some(VisitState::OnTheWay) => return (Turn::OnSite, NextMove::AwaitArrival),
        _ => {}
    }
    let is_unsafe = order.appliance_state == Some(ApplianceState::UnsafeDoNotUse);
    let first = order.waits.iter().find(|wait| wait.to_at.is_none());
    if let Some(wait) = first {
        return match wait.reason {
            WaitingReason::Approval if order.quote.is_none() => (Turn::We, NextMove::MakeQuote),
            WaitingReason::Approval => (Turn::Customer, NextMove::RingAboutQuote),
            WaitingReason::Access => (Turn::Customer, NextMove::RingAboutAccess),
            WaitingReason::CustomersWish => (Turn::Customer, NextMove::RingBack),
            WaitingReason::Part if to_order(order) => (Turn::We, NextMove::OrderParts),
            WaitingReason::Part => (Turn::Supplier, NextMove::AskSupplier),
            WaitingReason::SecondPerson => (Turn::We, NextMove::FindSecondPerson),
            WaitingReason::Waiver => (Turn::We, NextMove::DecideWaiver),
        };
    }
    if let Some(visit) = visit {
        let is_late = visit.planned_at.instant() + LATE < now.instant();
        return if is_late {
            (Turn::We, NextMove::AskAboutVisit)
        } else {
            (Turn::Planned, NextMove::AwaitVisit)
        };
    }
    let next = match order.state {
        OrderState::RepairedUnproven => NextMove::Prove,
        OrderState::Proven => NextMove::Close,
        _ if is_unsafe => NextMove::SendSomebody,
        OrderState::Received => NextMove::Assess,
        _ if order.part_lines.contains(&PartLineState::Identified) => NextMove::MakeQuote,
        _ if to_order(order) => NextMove::OrderParts,
        _ if order.part_lines.iter().any(|line| is_on_its_way(*line)) => {
            return (Turn::Supplier, NextMove::AskSupplier);
        }
        _ => NextMove::BookVisit,
    };
    (Turn::We, next)
}

const fn on_site(state: OrderState) -> NextMove {
    match state {
        OrderState::RepairedUnproven => NextMove::Prove,
        OrderState::Proven => NextMove::Close,
        _ => NextMove::ReportRepaired,
    }
}

fn to_order(order: &OpenOrder) -> bool {
    order.part_lines.contains(&PartLineState::Approved)
}

const fn is_on_its_way(line: PartLineState) -> bool {
    matches!(line, PartLineState::Ordered | PartLineState::Promised)
}

#[cfg(test)]
mod tests {
    use domain::id::{SiteId, WorkOrderId};
    use domain::work::{OrderKind, Urgency};
    use store::today::{LastQuote, Wait};
    use uuid::Uuid;

    use super::*;

    fn at(time: &str) -> Timestamp {
        format!("2026-04-22T{time}:00Z").parse().unwrap()
    }

    fn order(state: OrderState) -> OpenOrder {
        let id: Uuid = "019db000-0000-7000-8000-000000000001".parse().unwrap();
        OpenOrder {
            id: WorkOrderId::try_from(id).unwrap(),
            number: 1,
            version: 1,
            kind: OrderKind::Corrective,
            urgency: Urgency::Degraded,
            state,
            received_at: at("08:00"),
            symptoms: Vec::new(),
            site: SiteId::try_from(id).unwrap(),
            site_name: String::new(),
            time_zone: "UTC".to_owned(),
            branch_name: None,
            appliance: None,
            position_label: None,
            appliance_state: None,
            waits: Vec::new(),
            visit: None,
            people: Vec::new(),
            first_arrival: None,
            part_lines: Vec::new(),
            promised_on: None,
            quote: None,
            ring_back_at: None,
        }
    }

    fn turn(change: impl FnOnce(&mut OpenOrder)) -> (Turn, NextMove) {
        let mut order = order(OrderState::Assessed);
        change(&mut order);
        turn_of(&order, at("12:00"))
    }

    fn wait(reason: WaitingReason, from: &str) -> Wait {
        Wait { reason, from_at: at(from), to_at: None, pauses_clock: false }
    }

    #[test]
    fn without_waits_and_visits_it_is_ours() {
        assert_eq!(turn(|order| order.state = OrderState::Received), (Turn::We, NextMove::Assess));
        assert_eq!(turn(|_| ()), (Turn::We, NextMove::BookVisit));
        assert_eq!(turn(|order| order.state = OrderState::Proven), (Turn::We, NextMove::Close));
        let identified = turn(|order| order.part_lines = vec![PartLineState::Identified]);
        assert_eq!(identified, (Turn::We, NextMove::MakeQuote));
        let ordered = turn(|order| order.part_lines = vec![PartLineState::Ordered]);
        assert_eq!(ordered, (Turn::Supplier, NextMove::AskSupplier));
        let danger = turn(|order| order.appliance_state = Some(ApplianceState::UnsafeDoNotUse));
        assert_eq!(danger, (Turn::We, NextMove::SendSomebody));
    }

    #[test]
    fn the_first_open_wait_decides() {
        let both = [wait(WaitingReason::Part, "09:00"), wait(WaitingReason::Access, "10:00")];
        assert_eq!(turn(|order| order.waits = both.to_vec()).0, Turn::Supplier);
        let ended = Wait { to_at: Some(at("09:30")), ..both[0] };
        assert_eq!(turn(|order| order.waits = vec![ended, both[1]]).0, Turn::Customer);
        let approval = vec![wait(WaitingReason::Approval, "09:00")];
        assert_eq!(turn(|order| order.waits.clone_from(&approval)), (Turn::We, NextMove::MakeQuote));
        let quoted = turn(|order| {
            order.waits.clone_from(&approval);
            order.quote = Some(LastQuote {
                number: 1,
                total: "10.00".to_owned(),
                currency: "EUR".to_owned(),
                made_at: at("09:00"),
                is_decided: false,
            });
        });
        assert_eq!(quoted, (Turn::Customer, NextMove::RingAboutQuote));
    }

    #[test]
    fn who_was_promised_to_be_rung_back_is_rung_before_all_else() {
        let waits = |order: &mut OpenOrder| order.waits = vec![wait(WaitingReason::Approval, "09:00")];
        let promised = |at_time: &str| {
            turn(|order| {
                waits(order);
                order.ring_back_at = Some(at(at_time));
            })
        };
        assert_eq!(promised("11:59"), (Turn::We, NextMove::RingBackNow));
        assert_eq!(promised("12:01"), turn(waits));
    }

    #[test]
    fn a_visit_is_planned_until_it_is_late_and_somebody_on_site_goes_before_every_wait() {
        let visit = |planned: &str| Some(VisitTimes::planned(at(planned)));
        assert_eq!(turn(|order| order.visit = visit("11:50")), (Turn::Planned, NextMove::AwaitVisit));
        assert_eq!(turn(|order| order.visit = visit("11:40")), (Turn::We, NextMove::AskAboutVisit));
        let there = turn(|order| {
            order.waits = vec![wait(WaitingReason::Part, "09:00")];
            order.visit = visit("11:00").map(|times| VisitTimes { arrived_at: Some(at("11:05")), ..times });
        });
        assert_eq!(there, (Turn::OnSite, NextMove::ReportRepaired));
        let forgotten = turn(|order| {
            let arrived: Timestamp = "2026-04-21T19:00:00Z".parse().unwrap();
            order.visit = Some(VisitTimes { arrived_at: Some(arrived), ..VisitTimes::planned(arrived) });
        });
        assert_eq!(forgotten, (Turn::We, NextMove::AskAboutVisit));
    }
}
