//! A span for each request, in the trace of whoever sent it (W3C Trace Context). Where spans go, if anywhere, the
//! server says; of a caller's own words they hold as little as the log.

use axum::http::{HeaderMap, StatusCode};
use opentelemetry::global::{self, BoxedSpan};
use opentelemetry::propagation::Extractor;
use opentelemetry::trace::{Span, SpanKind, Status, Tracer};
use opentelemetry::{Array, KeyValue, StringValue, Value};

/// The headers that carry a trace, and no others.
struct TraceHeaders<'a>(&'a HeaderMap);

impl Extractor for TraceHeaders<'_> {
    fn get(&self, name: &str) -> Option<&str> {
        self.0.get(name)?.to_str().ok()
    }

    fn keys(&self) -> Vec<&str> {
        ["traceparent", "tracestate"].into_iter().filter(|name| self.0.contains_key(*name)).collect()
    }
}

pub fn begin(method: &str, route: &str, headers: &HeaderMap) -> BoxedSpan {
    let parent = global::get_text_map_propagator(|propagator| propagator.extract(&TraceHeaders(headers)));
    let tracer = global::tracer("ovenwright");
    tracer
        .span_builder(format!("{method} {route}"))
        .with_kind(SpanKind::Server)
        .with_attributes([
            KeyValue::new("http.request.method", method.to_owned()),
            KeyValue::new("http.route", route.to_owned()),
        ])
        .start_with_context(&tracer, &parent)
}

/// The trace's id, if spans go anywhere.
pub fn id(span: &BoxedSpan) -> Option<String> {
    let context = span.span_context();
    context.is_valid().then(|| context.trace_id().to_string())
}

pub fn end(span: &mut BoxedSpan, status: StatusCode, request_id: &str) {
    span.set_attribute(KeyValue::new("http.response.status_code", i64::from(status.as_u16())));
    let names = vec![StringValue::from(request_id.to_owned())];
    span.set_attribute(KeyValue::new(
        "http.response.header.x-request-id",
        Value::Array(Array::String(names)),
    ));
    if status.is_server_error() {
        span.set_attribute(KeyValue::new("error.type", status.as_str().to_owned()));
        span.set_status(Status::error(""));
    }
    span.end();
}
