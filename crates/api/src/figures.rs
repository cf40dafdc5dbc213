//! Counts and times of requests, and one log line for each. Routes are named by their template, so that
//! no id and no stranger's address becomes a label.
//!
//! Never logged: header values, bodies, queries, names, phones, what callers said.

use std::sync::OnceLock;
use std::time::Instant;

use axum::extract::{MatchedPath, Request};
use axum::http::HeaderMap;
use axum::middleware::Next;
use axum::response::Response;
use metrics::{counter, histogram};
use metrics_exporter_prometheus::{Matcher, PrometheusBuilder, PrometheusHandle};

use crate::client_address::ClientAddress;
use crate::finish::REQUEST_ID;
use crate::traces;

/// What was counted so far, in this process.
#[derive(Debug, Clone)]
pub struct Figures(Option<PrometheusHandle>);

/// A process has one recorder, however many services a test starts in it.
static RECORDER: OnceLock<Option<PrometheusHandle>> = OnceLock::new();

const DURATION: &str = "http_server_request_duration_seconds";
const BUCKETS: &[f64] = &[0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0];

impl Figures {
    pub fn install() -> Self {
        let handle = RECORDER.get_or_init(|| {
            let builder =
                PrometheusBuilder::new().set_buckets_for_metric(Matcher::Full(DURATION.to_owned()), BUCKETS);
            let installed = builder.and_then(PrometheusBuilder::install_recorder);
            installed.inspect_err(|error| tracing::warn!(%error, "requests are not counted")).ok()
        });
        Self(handle.clone())
    }

    pub fn render(&self) -> String {
        self.0.as_ref().map(PrometheusHandle::render).unwrap_or_default()
    }
}

/// Counts, times and logs a request.
pub async fn watch(request: Request, next: Next) -> Response {
    let began = Instant::now();
    let method = request.method().clone();
    let route = request.extensions().get::<MatchedPath>().map_or("unmatched", MatchedPath::as_str).to_owned();
    let client = request.extensions().get::<ClientAddress>().map(|client| client.0.to_string());
    let mut span = traces::begin(&method_label(&method), &route, request.headers());
    let trace = trace_id(request.headers()).or_else(|| traces::id(&span));
    let response = next.run(request).await;
    let (status, seconds) = (response.status().as_u16(), began.elapsed().as_secs_f64());
    let labels =
        [("method", method_label(&method)), ("route", route.clone()), ("status", status.to_string())];
    counter!("http_server_requests_total", &labels).increment(1);
    histogram!(DURATION, &labels[..2]).record(seconds);
    let request_id = response.headers().get(&REQUEST_ID).and_then(|id| id.to_str().ok()).unwrap_or_default();
    traces::end(&mut span, response.status(), request_id);
    tracing::info!(target: "ovenwright::request", %method, route, status, seconds, request_id, client, trace_id = trace);
    response
}

/// Methods that are no standard ones share a label.
pub(crate) fn method_label(method: &axum::http::Method) -> String {
    let known = ["GET", "HEAD", "POST", "PATCH", "PUT", "DELETE", "OPTIONS"];
    if known.contains(&method.as_str()) { method.to_string() } else { "OTHER".to_owned() }
}

/// The trace id of a W3C `traceparent` header: version, 32 hexadecimal digits, 16, flags.
fn trace_id(headers: &HeaderMap) -> Option<String> {
    let parent = headers.get("traceparent")?.to_str().ok()?;
    let mut parts = parent.split('-');
    let (version, trace, span) = (parts.next()?, parts.next()?, parts.next()?);
    let is_hexadecimal = |text: &str, length: usize| {
        text.len() == length && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
    };
    let holds = is_hexadecimal(version, 2)
        && version != "ff"
        && is_hexadecimal(trace, 32)
        && is_hexadecimal(span, 16);
    (holds && trace.bytes().any(|b| b != b'0')).then(|| trace.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trace_is_read_from_a_traceparent_and_nothing_else() {
        let of = |text: &'static str| {
            trace_id(&HeaderMap::from_iter([("traceparent".parse().unwrap(), text.parse().unwrap())]))
        };
        // The example of W3C Trace Context, section 3.2.2.
        let trace = of("00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01");
        assert_eq!(trace.as_deref(), Some("4bf92f3577b34da6a3ce929d0e0e4736"));
        assert_eq!(of("00-00000000000000000000000000000000-00f067aa0ba902b7-01"), None);
        assert_eq!(of("00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01"), None);
        assert_eq!(of("kitchen"), None);
    }
}
