//! The address that people type: browsers are led to the first page, programs to the document.

use application::Caller;
use axum::extract::State;
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};

use domain::role::Role;

use crate::state::ConsoleState;
use crate::{access, see, sign_in, wants_page};

/// The page on which somebody begins; none if no page is open to him.
pub(crate) fn first_page(caller: &Caller) -> Option<&'static str> {
    match caller.principal.role {
        Role::Technician => caller.require("see_day").ok().map(|()| "/day"),
        _ => caller.require("see_today").ok().map(|()| "/today"),
    }
}

pub(crate) async fn land(State(state): State<ConsoleState>, headers: HeaderMap) -> Response {
    if !wants_page(&headers) {
        return ([(header::VARY, "accept")], see("/openapi.json")).into_response();
    }
    match access::caller(&state, &headers).await {
        Ok(Some(caller)) => see(first_page(&caller).unwrap_or("/sign-in")),
        Ok(None) => see(&sign_in::path("/")),
        Err(fault) => fault.into_response(),
    }
}
