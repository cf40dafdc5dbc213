//! What was found and done, and what happened in which order.

use application::see_order::{OrderFile, StandingFinding};
use chrono_tz::Tz;
use domain::time::Timestamp;

use crate::when;

/// Something that happened.
pub(crate) struct Event {
    pub at: String,
    pub text: String,
    moment: Timestamp,
}

impl Event {
    fn new(file: &OrderFile, zone: Tz, moment: Timestamp, text: String) -> Self {
        Self { at: when::clock(zone, moment, file.now), text, moment }
    }
}

fn word(list: &str, key: &str) -> String {
    wording::term(list, key).into_owned()
}

pub(crate) fn found_in_words(file: &OrderFile, finding: &StandingFinding) -> String {
    let because = [
        ("failure-mode", &finding.failure_mode),
        ("mechanism", &finding.mechanism),
        ("cause", &finding.cause),
    ];
    let because = because.into_iter().filter_map(|(list, key)| Some(word(list, key.as_ref()?.as_str())));
    let because: Vec<String> = because.collect();
    let note = finding
        .note
        .as_ref()
        .map(|note| format!(" {}", wording::say_with("quoted", &[("words", note.to_string().into())])));
    let variables = [
        ("place", word("position", finding.position.as_str()).into()),
        ("finding", word("condition", finding.finding.as_str()).into()),
        ("because", because.join(", ").into()),
        ("evidence", word("evidence", finding.evidence.as_str()).into()),
        ("who", file.names.get(&finding.confirmed_by).cloned().unwrap_or_default().into()),
    ];
    let key = if because.is_empty() { "done-finding" } else { "done-finding-because" };
    wording::say_with(key, &variables) + note.as_deref().unwrap_or_default()
}

/// What was done to the machine, as people told it.
pub(crate) fn done(file: &OrderFile, zone: Tz) -> Vec<Event> {
    let actions = file.actions.iter().map(|action| {
        let variables = [
            ("place", word("position", action.position.as_str()).into()),
            ("action", word("action", action.action.as_str()).into()),
            ("who", file.names.get(&action.taken_by).cloned().unwrap_or_default().into()),
        ];
        Event::new(file, zone, action.taken_at, wording::say_with("done-action", &variables))
    });
    actions.collect()
}

/// All that happened, newest first.
pub(crate) fn events(file: &OrderFile, zone: Tz) -> Vec<Event> {
    let event = |at: Timestamp, text: String| Event::new(file, zone, at, text);
    let said = wording::say_with;
    let mut events = vec![event(file.order.received_at, wording::say("event-received"))];
    for visit in &file.visits {
        let people: Vec<String> = visit.people.iter().filter_map(|id| file.names.get(id).cloned()).collect();
        let people = people.join(", ");
        let steps = [
            ("event-set-out", visit.times.set_out_at),
            ("event-arrived", visit.times.arrived_at),
            ("event-left", visit.times.left_at),
            ("event-missed", visit.times.missed_at),
            ("event-called-off", visit.times.called_off_at),
        ];
        for (key, at) in steps {
            let result = visit.times.result.map(|of| wording::term("visit-result", of.word()).into_owned());
            let variables =
                [("people", people.clone().into()), ("result", result.unwrap_or_default().into())];
            events.extend(at.map(|at| event(at, said(key, &variables))));
        }
    }
    for wait in &file.waits {
        let reason = wording::term("waiting", wait.reason.word()).into_owned();
        let variables = [("reason", reason.into())];
        events.push(event(wait.from_at, said("event-wait-began", &variables)));
        events.extend(wait.to_at.map(|at| event(at, said("event-wait-ended", &variables))));
    }
    for quote in &file.quotes {
        let variables = [
            ("number", quote.number.to_string().into()),
            ("total", wording::decimal(quote.total.to_string()).into()),
            ("currency", quote.currency.to_string().into()),
        ];
        events.push(event(quote.made_at, said("event-quoted", &variables)));
    }
    for approval in &file.approvals {
        let decision = wording::term("decision", approval.decision.word()).into_owned();
        events.push(event(approval.decided_at, said("event-decided", &[("decision", decision.into())])));
    }
    for stop in file.stops.iter().filter(|stop| stop.work_order == Some(file.order.id)) {
        events.push(event(stop.stopped_at, wording::say("event-stopped")));
        if let Some(release) = &stop.release {
            let variables = [("why", release.reason.to_string().into())];
            events.push(event(release.at, said("event-released", &variables)));
        }
    }
    events.extend(file.order.restored_at.map(|at| event(at, wording::say("event-restored"))));
    events.extend(file.order.closed_at.map(|at| event(at, wording::say("event-ended"))));
    events.extend(file.findings.iter().map(|finding| event(finding.found_at, found_in_words(file, finding))));
    events.extend(done(file, zone));
    events.sort_by_key(|event| std::cmp::Reverse(event.moment));
    events
}
