//! My day: what is next, what it is about, what to bring, what to heed.

use application::Caller;
use application::see_day::{Day, SeeDay, VisitOfDay};
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;

use super::card::CardView;
use crate::access::SignedIn;
use crate::order::diagnosis::WrongView;
use crate::page::{PageFault, Shell, show as show_page};
use crate::parts::moves::{Attempt, Input};
use crate::state::ConsoleState;
use crate::when;

#[derive(Template)]
#[template(path = "day/day.html")]
struct DayPage {
    shell: Shell,
    as_of: String,
    cut: Option<String>,
    groups: Vec<(String, Vec<Line>)>,
}

struct Line {
    card: CardView,
    wrong: WrongView,
    defeated: bool,
}

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
) -> Result<Response, PageFault> {
    let day = state.application.ask(&caller, SeeDay).await?;
    let page = DayPage {
        shell: Shell::of(wording::say("day-title"), &caller),
        as_of: as_of(&day),
        cut: day.is_cut.then(|| wording::say("day-cut")),
        groups: groups(&day, &caller),
    };
    Ok(show_page(StatusCode::OK, &page))
}

/// The hour of the page, in the zone of the first kitchen.
fn as_of(day: &Day) -> String {
    let zone = day.visits.first().map_or("UTC", |of| of.file.site.time_zone.as_str());
    wording::say_with("day-as-of", &[("at", when::clock(when::zone(zone), day.now, day.now).into())])
}

/// Where he is or is on the way to; the rest of today; tomorrow; what is over.
fn groups(day: &Day, caller: &Caller) -> Vec<(String, Vec<Line>)> {
    let mut groups: [(&str, Vec<Line>); 4] = [
        ("day-now", Vec::new()),
        ("day-today", Vec::new()),
        ("day-tomorrow", Vec::new()),
        ("day-over", Vec::new()),
    ];
    for of in &day.visits {
        let at = if !of.visit.times.state().is_open() {
            3
        } else if of.visit.times.set_out_at.or(of.visit.times.arrived_at).is_some() {
            0
        } else if is_today(of, day) {
            1
        } else {
            2
        };
        let mut card = CardView::of(&of.file, &of.visit, caller, &Attempt::default());
        // The next step alone; the others stand on the visit's page.
        card.moves.truncate(1);
        groups[at].1.push(Line { card, wrong: WrongView::of(&of.file), defeated: of.is_interlock_defeated });
    }
    let kept = groups.into_iter().filter(|(_, lines)| !lines.is_empty());
    kept.map(|(key, lines)| (wording::say(key), lines)).collect()
}

/// Today, or left over from a day before.
fn is_today(of: &VisitOfDay, day: &Day) -> bool {
    let zone = when::zone(of.file.site.time_zone.as_str());
    let date = |at: domain::time::Timestamp| at.instant().with_timezone(&zone).date_naive();
    date(of.visit.times.planned_at) <= date(day.now)
}
