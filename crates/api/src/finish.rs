//! The outermost layer: gives a request its id, makes every error a problem, answers If-None-Match.

use axum::body::Body;
use axum::extract::Request;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::Response;

use crate::extract::tag_matches;
use crate::problem::{Kind, Problem};

/// Names one request in logs, answers and the audit trail.
#[derive(Debug, Clone, Default)]
pub struct RequestId(pub String);

pub const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
const PROBLEM_JSON: HeaderValue = HeaderValue::from_static("application/problem+json");

pub async fn finish(mut request: Request, next: Next) -> Response {
    let id = request_id(request.headers().get(&REQUEST_ID));
    request.extensions_mut().insert(id.clone());
    let is_read = matches!(*request.method(), Method::GET | Method::HEAD);
    let if_none_match = request.headers().get(header::IF_NONE_MATCH).cloned();
    let mut response = next.run(request).await;
    if response.status().is_client_error() || response.status().is_server_error() {
        response = as_problem(response, &id);
    } else if is_read && response.status() == StatusCode::OK {
        response = not_modified(response, if_none_match.as_ref());
    }
    tag_the_coding(response.headers_mut());
    name(&mut response, &id);
    response
}

/// A refusal that was made before any layer: its problem with the request's id.
pub fn named(response: Response, headers: &HeaderMap) -> Response {
    let id = request_id(headers.get(&REQUEST_ID));
    let mut response = as_problem(response, &id);
    name(&mut response, &id);
    response
}

fn name(response: &mut Response, id: &RequestId) {
    if let Ok(value) = HeaderValue::from_str(&id.0) {
        response.headers_mut().insert(REQUEST_ID, value);
    }
}

/// The client's own id if it is a short plain word, else a new one.
fn request_id(given: Option<&HeaderValue>) -> RequestId {
    let given = given.and_then(|value| value.to_str().ok()).filter(|text| {
        (1..=64).contains(&text.len())
            && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
    });
    #[expect(clippy::disallowed_methods, reason = "a request's name needs no foreseeable randomness")]
    RequestId(given.map_or_else(|| uuid::Uuid::new_v4().to_string(), str::to_owned))
}

/// The problem that a handler gave, or one for a bare status of the framework's own.
fn as_problem(mut response: Response, id: &RequestId) -> Response {
    if response.headers().get(header::CONTENT_TYPE) == Some(&PROBLEM_JSON) {
        return response;
    }
    let mut problem = response.extensions_mut().remove::<Problem>().unwrap_or_else(|| {
        let kind = Kind::of_status(response.status());
        Problem::new(kind, bare_detail(kind))
    });
    problem.request_id.clone_from(&id.0);
    let body = serde_json::to_vec(&problem).unwrap_or_else(|error| {
        tracing::error!(%error, "a problem cannot be written as JSON");
        br#"{"type":"about:blank"}"#.to_vec()
    });
    let (mut parts, _) = response.into_parts();
    parts.status = problem.status();
    parts.headers.remove(header::CONTENT_LENGTH);
    parts.headers.remove(header::ETAG);
    parts.headers.insert(header::CONTENT_TYPE, PROBLEM_JSON);
    parts.headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Response::from_parts(parts, Body::from(body))
}

fn bare_detail(kind: Kind) -> &'static str {
    match kind {
        Kind::NOT_FOUND => "nothing lies at this address; /openapi.json lists what does",
        Kind::METHOD_NOT_ALLOWED => "the Allow header lists the methods that this address takes",
        Kind::TOO_LARGE => "send fewer things at once; a body may have at most one mebibyte",
        Kind::TIMED_OUT => "repeat the request; the same id or Idempotency-Key makes that safe",
        Kind::OVERLOADED => "too many requests are being worked on; wait as Retry-After says",
        _ => kind.title,
    }
}

/// A strong ETag names bytes, and compression changed them: `"7"` becomes `"7-gzip"`.
fn tag_the_coding(headers: &mut HeaderMap) {
    let coding = headers.get(header::CONTENT_ENCODING).and_then(|coding| coding.to_str().ok());
    let tag = headers.get(header::ETAG).and_then(|tag| tag.to_str().ok());
    let (Some(coding), Some(tag)) = (coding, tag) else { return };
    let tagged =
        tag.strip_suffix('"').filter(|tag| tag.starts_with('"')).map(|tag| format!("{tag}-{coding}\""));
    if let Some(value) = tagged.and_then(|tagged| HeaderValue::from_str(&tagged).ok()) {
        headers.insert(header::ETAG, value);
    }
}

fn not_modified(response: Response, if_none_match: Option<&HeaderValue>) -> Response {
    let (Some(etag), Some(wanted)) = (response.headers().get(header::ETAG), if_none_match) else {
        return response;
    };
    if !tag_matches(wanted, etag) {
        return response;
    }
    let (mut parts, body) = response.into_parts();
    drop(body);
    parts.status = StatusCode::NOT_MODIFIED;
    parts.headers.remove(header::CONTENT_LENGTH);
    parts.headers.remove(header::CONTENT_TYPE);
    Response::from_parts(parts, Body::empty())
}

/// What a handler that panicked is answered with.
pub fn panicked(_: Box<dyn std::any::Any + Send + 'static>) -> Response {
    use axum::response::IntoResponse;
    tracing::error!("a handler panicked");
    Problem::internal().into_response()
}

#[cfg(test)]
mod tests {
    use axum::Router;
    use axum::middleware::from_fn;
    use axum::routing::get;
    use tower::{ServiceBuilder, ServiceExt};
    use tower_http::catch_panic::CatchPanicLayer;

    use super::*;

    #[tokio::test]
    async fn a_handler_that_panics_is_a_problem_that_tells_nothing_but_its_request_id() {
        let layers = ServiceBuilder::new().layer(from_fn(finish)).layer(CatchPanicLayer::custom(panicked));
        let service = Router::new().route("/", get(|| async { panic!("zanzibar") as () })).layer(layers);
        let request = Request::get("/").header(&REQUEST_ID, "one").body(Body::empty()).unwrap();
        let response = service.oneshot(request).await.unwrap();
        assert_eq!(response.status(), StatusCode::INTERNAL_SERVER_ERROR);
        let body = axum::body::to_bytes(response.into_body(), 10_000).await.unwrap();
        let problem: serde_json::Value = serde_json::from_slice(&body).unwrap();
        assert_eq!((&problem["type"], &problem["request_id"]), (&"/problems/internal".into(), &"one".into()));
        assert!(!problem.to_string().contains("zanzibar"));
    }
}
