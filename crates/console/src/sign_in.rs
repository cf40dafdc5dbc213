//! Signing in and out.

use application::sign_in::{self, EndSession, Guest};
use application::{Caller, Principal};
use askama::Template;
use axum::extract::{Extension, State};
use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::{AppendHeaders, IntoResponse, Response};
use domain::role::Role;

use crate::access::{self, Form, Posted, request_id};
use crate::fields::Fields;
use crate::land::first_page;
use crate::page::{PageFault, Shell, show as show_page};
use crate::see;
use crate::state::{ConsoleState, Household};

/// The browser forgets the session then; it ends here earlier, when it rests.
const COOKIE_LIVES: u32 = 7 * 24 * 3600;

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    shell: Shell,
    /// The page first asked for.
    then: String,
    name: String,
    refusal: Option<String>,
    /// What was typed into another page when the session had ended.
    kept: String,
    guests: Vec<GuestButton>,
    /// Signed in already, as somebody who has no pages yet.
    is_without_pages: bool,
}

struct GuestButton {
    sign_in_name: String,
    name: String,
    role: String,
    what: String,
}

#[derive(Template)]
#[template(path = "resume.html")]
struct ResumePage {
    shell: Shell,
    then: String,
    fields: Vec<(String, String)>,
}

/// Where somebody signs in who wants to see this page.
pub(crate) fn path(wanted: &str) -> String {
    match serde_urlencoded::to_string([("then", wanted)]) {
        Ok(query) if wanted != "/" => format!("/sign-in?{query}"),
        _ => "/sign-in".to_owned(),
    }
}

/// A path of this service, and nothing that a browser would take for another host.
fn own_path(text: &str) -> &str {
    let is_own = text.starts_with('/')
        && !text[1..].starts_with(['/', '\\'])
        && text.bytes().all(|byte| byte.is_ascii_graphic());
    if is_own { text } else { "/" }
}

pub(crate) async fn show(State(state): State<ConsoleState>, headers: HeaderMap, uri: Uri) -> Response {
    let fields = Fields::of_query(&uri);
    match access::caller(&state, &headers).await {
        Ok(Some(caller)) if first_page(&caller).is_some() => see(own_path(fields.raw("then"))),
        Ok(known) => page(&state, StatusCode::OK, &fields, None, known.as_ref()).await,
        Err(fault) => fault.into_response(),
    }
}

pub(crate) async fn by_password(
    State(state): State<ConsoleState>,
    household: Option<Extension<Household>>,
    Form(fields): Form,
) -> Response {
    let from = household.map(|Extension(household)| household);
    if !state.attempts.take(fields.raw("name"), from) {
        let words = wording::say("sign-in-too-often");
        return page(&state, StatusCode::TOO_MANY_REQUESTS, &fields, Some(words), None).await;
    }
    let password = fields.raw("password").to_owned();
    match sign_in::by_password(&state.application, fields.raw("name"), password).await {
        Ok(Some(principal)) => welcome(&state, principal, &fields).await,
        Ok(None) => {
            let words = wording::say("sign-in-wrong");
            page(&state, StatusCode::UNPROCESSABLE_ENTITY, &fields, Some(words), None).await
        }
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

pub(crate) async fn as_guest(State(state): State<ConsoleState>, Form(fields): Form) -> Response {
    match sign_in::welcome_guest(&state.application, fields.raw("guest")).await {
        Ok(Some(principal)) => welcome(&state, principal, &fields).await,
        Ok(None) => {
            let words = wording::say("sign-in-wrong");
            page(&state, StatusCode::UNPROCESSABLE_ENTITY, &fields, Some(words), None).await
        }
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

pub(crate) async fn out(State(state): State<ConsoleState>, Posted(caller, _): Posted) -> Response {
    if let Err(refusal) = state.application.perform(&caller, EndSession).await {
        return PageFault::from(refusal).into_response();
    }
    ([(header::SET_COOKIE, door::end_session())], see("/sign-in")).into_response()
}

/// The page that asks again in mid-form; what was typed goes along.
pub(crate) async fn again(state: &ConsoleState, path: &str, typed: &Fields) -> Response {
    let kept = serde_urlencoded::to_string(typed.pairs()).unwrap_or_default();
    let carried = [("then".to_owned(), path.to_owned()), ("kept".to_owned(), kept)];
    let fields = Fields::from(carried.to_vec());
    let words = wording::say("sign-in-session-ended");
    page(state, StatusCode::UNAUTHORIZED, &fields, Some(words), None).await
}

/// Begins a session and goes on where it was left.
pub(crate) async fn welcome(state: &ConsoleState, principal: Principal, fields: &Fields) -> Response {
    let begun = sign_in::begin_session(&state.application, principal, request_id()).await;
    let cookie = match begun.map(|secret| door::set_session(&secret.0, COOKIE_LIVES)) {
        Ok(Some(cookie)) => AppendHeaders([(header::SET_COOKIE, cookie)]),
        Ok(None) => return PageFault::Panicked.into_response(),
        Err(refusal) => return PageFault::from(refusal).into_response(),
    };
    let then = own_path(fields.raw("then")).to_owned();
    let Some(kept) = fields.get("kept").and_then(Fields::of_text) else {
        return (cookie, see(&then)).into_response();
    };
    let shell = Shell::bare(wording::say("resume-title"));
    let page = ResumePage { shell, then, fields: kept.pairs().to_vec() };
    (cookie, show_page(StatusCode::OK, &page)).into_response()
}

async fn page(
    state: &ConsoleState,
    status: StatusCode,
    fields: &Fields,
    refusal: Option<String>,
    known: Option<&Caller>,
) -> Response {
    let guests = match sign_in::guests(&state.application).await {
        Ok(mut guests) => {
            // Those first who see the most.
            guests.sort_by_key(|guest| (guest.role == Role::Technician, guest.role));
            guests.into_iter().map(GuestButton::from).collect()
        }
        Err(refusal) => return PageFault::from(refusal).into_response(),
    };
    let title = wording::say("sign-in-title");
    let shell = known.map_or_else(|| Shell::bare(title.clone()), |caller| Shell::of(title.clone(), caller));
    let page = SignInPage {
        shell,
        then: own_path(fields.raw("then")).to_owned(),
        name: fields.raw("name").to_owned(),
        refusal,
        kept: fields.raw("kept").to_owned(),
        guests,
        is_without_pages: known.is_some(),
    };
    show_page(status, &page)
}

impl From<Guest> for GuestButton {
    fn from(guest: Guest) -> Self {
        Self {
            what: wording::say(match guest.role {
                Role::Technician => "guest-technician",
                Role::Dispatcher => "guest-dispatcher",
                Role::Manager => "guest-manager",
                Role::Administrator => "guest-administrator",
                Role::Integration => "guest-integration",
            }),
            role: wording::term("role", guest.role.word()).into_owned(),
            sign_in_name: guest.sign_in_name,
            name: guest.name,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_led_to_another_host() {
        for own in ["/", "/today", "/orders/430?epoch=0"] {
            assert_eq!(own_path(own), own);
        }
        for other in [
            "",
            "https://elsewhere.example",
            "//elsewhere.example",
            "/\\elsewhere.example",
            "/a\r\nset-cookie: b",
            "/ä",
        ] {
            assert_eq!(own_path(other), "/", "{other}");
        }
        assert_eq!(path("/orders/1?a=b"), "/sign-in?then=%2Forders%2F1%3Fa%3Db");
    }
}
