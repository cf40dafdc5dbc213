use std::sync::OnceLock;

use crate::answer;
use crate::document::{document, part};
use crate::extract::Path;
use crate::problem::Problem;

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

/// One part of this interface as an OpenAPI 3.1 document
///
/// The operations of one tag with all that they need, for who reads or generates no more than that.
#[utoipa::path(get, path = "/openapi/{tag}", tag = "operations",
    params(("tag" = String, Path, description = "A tag of the document; `-` stands for the space", max_length = 64,
        example = "work-orders")),
    responses((status = 200, description = "The document", body = serde_json::Value, content_type = "application/json")))]
pub async fn get_openapi_part(Path(tag): Path<String>) -> Result<Response, Problem> {
    let part = part::of_tag(document(), &tag.replace('-', " "));
    answer::json(&part.ok_or_else(|| Problem::not_found("tag"))?)
}
