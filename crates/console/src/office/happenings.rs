//! What happened: who did what, when and why.

use application::see_happenings::{Deed, SeeHappenings};
use askama::Template;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use axum::response::Response;
use chrono_tz::Tz;
use domain::time::Timestamp;

use crate::access::SignedIn;
use crate::fields::Fields;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;
use crate::when;

#[derive(Template)]
#[template(path = "office/happenings.html")]
struct HappeningsPage {
    shell: Shell,
    words: String,
    span: String,
    deeds: Vec<DeedRow>,
    earlier: String,
}

struct DeedRow {
    at: String,
    who: String,
    what: String,
    why: String,
    order: Option<i64>,
}

pub(super) async fn show(
    State(state): State<ConsoleState>,
    SignedIn(caller): SignedIn,
    uri: Uri,
) -> Result<Response, PageFault> {
    let asked = Fields::of_query(&uri);
    let words = asked.raw("words").to_owned();
    let until = asked.parse::<Timestamp>("until").and_then(Result::ok);
    let found = state.application.ask(&caller, SeeHappenings { words: words.clone(), until }).await?;
    let clock = |at| when::clock(Tz::UTC, at, found.now);
    let (from, count) = (("from", clock(found.from).into()), ("count", found.deeds.len().into()));
    let span = match until {
        Some(until) => wording::say_with("happenings-span", &[from, ("until", clock(until).into()), count]),
        None => wording::say_with("happenings-since", &[from, count]),
    };
    let earlier = [("words", words.clone()), ("until", found.earlier.to_string())];
    let page = HappeningsPage {
        shell: Shell::of(wording::say("happenings-title"), &caller),
        span,
        deeds: found.deeds.iter().map(|deed| row(deed, found.now)).collect(),
        earlier: format!("/happenings?{}", serde_urlencoded::to_string(earlier).unwrap_or_default()),
        words,
    };
    Ok(show_page(StatusCode::OK, &page))
}

fn row(deed: &Deed, now: Timestamp) -> DeedRow {
    let changed: Vec<String> = deed.changed.iter().map(|field| field.replace('_', " ")).collect();
    let why = deed.why.clone().into_iter().chain(Some(changed.join(", ")).filter(|text| !text.is_empty()));
    DeedRow {
        at: when::clock(Tz::UTC, deed.at, now),
        who: deed.who.clone().unwrap_or_else(|| wording::say("happenings-service")),
        what: wording::term("deed", &deed.what).into_owned(),
        why: why.collect::<Vec<_>>().join(" · "),
        order: deed.order,
    }
}
