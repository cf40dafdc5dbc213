//! Where the spans of requests go: to the collector that the standard environment variables name, or nowhere.

use std::time::Duration;

use opentelemetry::global;
use opentelemetry_otlp::{OTEL_EXPORTER_OTLP_ENDPOINT, OTEL_EXPORTER_OTLP_TRACES_ENDPOINT, SpanExporter};
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::propagation::TraceContextPropagator;
use opentelemetry_sdk::trace::SdkTracerProvider;

use crate::wiring::Failure;

/// Spans on their way to a collector; none when none is named.
pub struct Traces(Option<SdkTracerProvider>);

impl Traces {
    /// Begins to send, by OTLP over HTTP. Headers, time-outs, sampling and the service's name come from OpenTelemetry's
    /// own variables.
    pub fn begin() -> Result<Self, Failure> {
        let is_set = |name: &str| std::env::var(name).is_ok_and(|value| !value.is_empty());
        let is_off = std::env::var("OTEL_SDK_DISABLED").is_ok_and(|value| value.eq_ignore_ascii_case("true"));
        if is_off || !(is_set(OTEL_EXPORTER_OTLP_ENDPOINT) || is_set(OTEL_EXPORTER_OTLP_TRACES_ENDPOINT)) {
            return Ok(Self(None));
        }
        let exporter = SpanExporter::builder()
            .with_http()
            .build()
            .map_err(|error| Failure::Other(format!("{OTEL_EXPORTER_OTLP_ENDPOINT}: {error}")))?;
        let named = is_set("OTEL_SERVICE_NAME") || is_set("OTEL_RESOURCE_ATTRIBUTES");
        let resource =
            if named { Resource::builder() } else { Resource::builder().with_service_name("ovenwright") };
        let provider = SdkTracerProvider::builder()
            .with_batch_exporter(exporter)
            .with_resource(resource.build())
            .build();
        global::set_text_map_propagator(TraceContextPropagator::new());
        global::set_tracer_provider(provider.clone());
        Ok(Self(Some(provider)))
    }

    /// Sends what is left, for a bounded time.
    pub async fn end(self, patience: Duration) {
        let Some(provider) = self.0 else { return };
        let ended = tokio::task::spawn_blocking(move || provider.shutdown_with_timeout(patience)).await;
        if let Ok(Err(error)) = ended {
            tracing::warn!(%error, "the last spans were not sent");
        }
    }
}
