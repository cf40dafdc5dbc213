use std::sync::OnceLock;

use axum::body::Bytes;
use axum::http::header;
use axum::response::{IntoResponse, Response};

/// Written once a process: it takes milliseconds and anybody may ask for it.
static WRITTEN: OnceLock<Bytes> = OnceLock::new();

/// This interface as an OpenAPI 3.1 document
#[utoipa::path(get, path = "/openapi.json", tag = "operations",
    responses((status = 200, description = "The document", body = serde_json::Value, content_type = "application/json")))]
pub async fn get_openapi() -> Response {
    let written = WRITTEN.get_or_init(|| crate::document::pretty().into());
    ([(header::CONTENT_TYPE, "application/json")], written.clone()).into_response()
}
