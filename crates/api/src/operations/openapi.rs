use axum::http::header;
use axum::response::{IntoResponse, Response};

/// This interface as an OpenAPI 3.1 document
#[utoipa::path(get, path = "/openapi.json", tag = "operations",
    responses((status = 200, description = "The document", body = serde_json::Value, content_type = "application/json")))]
pub async fn get_openapi() -> Response {
    ([(header::CONTENT_TYPE, "application/json")], crate::document::pretty()).into_response()
}
