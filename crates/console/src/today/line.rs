//! An order as one sentence with its one next move.

use application::today::{Line, NextMove, OpenOrder, Promise, Standing};
use domain::time::Timestamp;
use domain::work::{Urgency, VisitState, WaitingReason};

use crate::parts::scale::{Scale, Tone};
use crate::when;

/// An order as Today shows it.
pub(crate) struct LineView {
    pub number: i64,
    pub kitchen: String,
    pub machine: String,
    pub complaint: String,
    /// What stands: each a short sentence of its own.
    pub stands: Vec<String>,
    pub urgency: String,
    pub is_urgent: bool,
    pub promise: PromiseView,
    pub next: String,
    /// The part of the order's page where it is done.
    pub next_at: &'static str,
}

/// A promise as a scale and in words.
pub(crate) struct PromiseView {
    pub scale: Option<Scale>,
    pub words: String,
    pub is_over: bool,
}

impl LineView {
    pub fn of(line: &Line, now: Timestamp) -> Self {
        let order = &line.order;
        let complaint: Vec<_> =
            order.symptoms.iter().map(|symptom| wording::term("symptom", symptom.as_str())).collect();
        let kind = wording::term("order-kind", order.kind.word());
        Self {
            number: order.number,
            kitchen: order.site_name.clone(),
            machine: order.position_label.clone().unwrap_or_else(|| wording::say("machine-not-known")),
            complaint: if complaint.is_empty() { kind.into_owned() } else { complaint.join(", ") },
            stands: stands(order, now),
            urgency: wording::term("urgency", order.urgency.word()).into_owned(),
            is_urgent: order.urgency == Urgency::Danger,
            promise: PromiseView::of(&line.promise),
            next: wording::say(next_key(line.next)),
            next_at: next_at(line.next),
        }
    }
}

impl PromiseView {
    pub fn of(promise: &Promise) -> Self {
        let (key, tone) = match promise.standing {
            Standing::NothingPromised => ("promise-none", Tone::Plain),
            Standing::Running if is_near(promise) => ("promise-left", Tone::Doubtful),
            Standing::Running => ("promise-left", Tone::Good),
            Standing::Paused => ("promise-paused", Tone::Plain),
            Standing::Over => ("promise-over", Tone::Bad),
            Standing::Kept => ("promise-kept", Tone::Good),
            Standing::Broken => ("promise-broken", Tone::Bad),
        };
        let left = promise.left().map(when::span).unwrap_or_default();
        let words = wording::say_with(key, &[("left", left.into()), ("run", when::span(promise.run).into())]);
        let minutes = |span: chrono::TimeDelta| span.num_minutes() as f64;
        let scale = promise
            .within
            .and_then(|within| Scale::of_spent(minutes(promise.run), minutes(within), tone, words.clone()));
        Self { scale, words, is_over: promise.standing == Standing::Over }
    }
}

/// Whether less than a quarter is left.
fn is_near(promise: &Promise) -> bool {
    promise.within.is_some_and(|within| promise.run * 4 > within * 3)
}

fn stands(order: &OpenOrder, now: Timestamp) -> Vec<String> {
    let zone = when::zone(&order.time_zone);
    let mut stands = Vec::new();
    if let Some(visit) = &order.visit {
        let people = order.people.join(", ");
        let (key, at) = match visit.state() {
            VisitState::OnSite => ("stands-on-site", visit.arrived_at),
            VisitState::OnTheWay => ("stands-on-the-way", visit.set_out_at),
            _ if visit.planned_at < now => ("stands-due", Some(visit.planned_at)),
            _ => ("stands-planned", Some(visit.planned_at)),
        };
        let at = when::clock(zone, at.unwrap_or(visit.planned_at), now);
        stands.push(wording::say_with(key, &[("people", people.into()), ("at", at.into())]));
    }
    for wait in order.waits.iter().filter(|wait| wait.to_at.is_none()) {
        let span = when::since(wait.from_at, now);
        let quote = order.quote.as_ref().filter(|quote| !quote.is_decided);
        stands.push(match (wait.reason, quote, order.promised_on) {
            (WaitingReason::Approval, Some(quote), _) => wording::say_with(
                "stands-quote",
                &[
                    ("number", quote.number.to_string().into()),
                    ("total", wording::decimal(quote.total.clone()).into()),
                    ("currency", quote.currency.clone().into()),
                    ("span", when::since(quote.made_at, now).into()),
                ],
            ),
            (WaitingReason::Part, _, Some(day)) => {
                let day = when::day(day, now);
                wording::say_with("stands-part-promised", &[("day", day.into()), ("span", span.into())])
            }
            (reason, ..) => {
                let reason = wording::term("waiting", reason.word()).into_owned();
                wording::say_with("stands-wait", &[("reason", reason.into()), ("span", span.into())])
            }
        });
    }
    if let Some(at) = order.ring_back_at {
        let at = when::clock(zone, at, now);
        stands.push(wording::say_with("stands-ring-back", &[("at", at.into())]));
    }
    if stands.is_empty() {
        let state = wording::term("order-state", order.state.word()).into_owned();
        let span = when::since(order.received_at, now);
        stands.push(wording::say_with("stands-state", &[("state", state.into()), ("span", span.into())]));
    }
    stands
}

fn next_key(next: NextMove) -> &'static str {
    match next {
        NextMove::SendSomebody => "next-send-somebody",
        NextMove::Assess => "next-assess",
        NextMove::BookVisit => "next-book-visit",
        NextMove::AskAboutVisit => "next-ask-about-visit",
        NextMove::FindSecondPerson => "next-find-second-person",
        NextMove::DecideWaiver => "next-decide-waiver",
        NextMove::MakeQuote => "next-make-quote",
        NextMove::RingAboutQuote => "next-ring-about-quote",
        NextMove::RingAboutAccess => "next-ring-about-access",
        NextMove::RingBack | NextMove::RingBackNow => "next-ring-back",
        NextMove::OrderParts => "next-order-parts",
        NextMove::AskSupplier => "next-ask-supplier",
        NextMove::AwaitArrival => "next-await-arrival",
        NextMove::AwaitVisit => "next-await-visit",
        NextMove::ReportRepaired => "next-report-repaired",
        NextMove::Prove => "next-prove",
        NextMove::Close => "next-close",
    }
}

/// Where on the order's page it is done.
fn next_at(next: NextMove) -> &'static str {
    match next {
        NextMove::Assess | NextMove::ReportRepaired | NextMove::Prove | NextMove::Close => "order-axis",
        NextMove::SendSomebody
        | NextMove::BookVisit
        | NextMove::AskAboutVisit
        | NextMove::AwaitArrival
        | NextMove::AwaitVisit => "visit-axis",
        NextMove::MakeQuote | NextMove::RingAboutQuote => "money-axis",
        NextMove::OrderParts | NextMove::AskSupplier => "parts-axis",
        NextMove::FindSecondPerson
        | NextMove::DecideWaiver
        | NextMove::RingAboutAccess
        | NextMove::RingBack => "waits-axis",
        NextMove::RingBackNow => "notes-axis",
    }
}
