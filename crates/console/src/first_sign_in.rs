//! The first time: a token that somebody was given makes a name and a password.

use application::Caller;
use application::sign_in::{self, SetSignIn};
use askama::Template;
use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::access::{Form, request_id};
use crate::fields::Fields;
use crate::page::{PageFault, Shell, refusal_in_words, show as show_page};
use crate::state::{ConsoleState, Household};

#[derive(Template)]
#[template(path = "first_sign_in.html")]
struct FirstSignInPage {
    shell: Shell,
    name: String,
    refusals: Vec<String>,
}

pub(crate) async fn show() -> Response {
    page(StatusCode::OK, "", Vec::new())
}

pub(crate) async fn set(
    State(state): State<ConsoleState>,
    household: Option<Extension<Household>>,
    Form(fields): Form,
) -> Response {
    let name = fields.raw("name").to_owned();
    let refuse = |refusals| page(StatusCode::UNPROCESSABLE_ENTITY, &name, refusals);
    if !state.attempts.take(&name, household.map(|Extension(household)| household)) {
        return page(StatusCode::TOO_MANY_REQUESTS, &name, vec![wording::say("sign-in-too-often")]);
    }
    let application = &state.application;
    let principal = match sign_in::by_token(application, fields.raw("token")).await {
        Ok(Some(principal)) => principal,
        Ok(None) => return refuse(vec![wording::say("first-sign-in-no-token")]),
        Err(refusal) => return PageFault::from(refusal).into_response(),
    };
    let caller = Caller { principal: principal.clone(), request_id: request_id() };
    let set = match SetSignIn::new(&name, fields.raw("password").to_owned()).await {
        Ok(use_case) => application.perform(&caller, use_case).await,
        Err(refusal) => Err(refusal),
    };
    match set {
        Ok(()) => crate::sign_in::welcome(&state, principal, &Fields::default()).await,
        Err(refusal) if refusal.is_for_the_caller() => refuse(refusal_in_words(&refusal)),
        Err(refusal) => PageFault::from(refusal).into_response(),
    }
}

fn page(status: StatusCode, name: &str, refusals: Vec<String>) -> Response {
    let shell = Shell::bare(wording::say("first-sign-in-title"));
    show_page(status, &FirstSignInPage { shell, name: name.to_owned(), refusals })
}
