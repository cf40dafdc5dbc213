//! Turns away at the door what would find no room to wait, so that a refusal costs next to nothing: under a flood there are
//! many of them for each answer.

use axum::http::{Method, Request};
use axum::response::{IntoResponse, Response};
use metrics::counter;

use crate::figures::method_label;
use crate::finish::named;
use crate::guard::token_holder;
use crate::places::{Places, full};

/// The answer to a request for which there is no room; none where there is, and for pages and supervisors, who take no place.
/// It is counted and not logged: a line for each would cost more than the refusal.
pub fn turned_away<Body>(places: &Places, request: &Request<Body>) -> Option<Response> {
    let wants_a_place = request.uri().path().starts_with("/v1/") && request.method() != Method::OPTIONS;
    if !wants_a_place || !places.turns_away(|| token_holder(request.headers())) {
        return None;
    }
    let method = method_label(request.method());
    counter!("http_server_requests_total", "method" => method, "route" => "turned away", "status" => "503")
        .increment(1);
    Some(named(full().into_response(), request.headers()))
}
