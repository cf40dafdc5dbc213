use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};

use crate::state::ApiState;

/// Counts and times, for a Prometheus server
#[utoipa::path(get, path = "/metrics", tag = "operations",
    responses((status = 200, description = "Text exposition format 0.0.4", body = crate::schema::PlainText, content_type = "text/plain")))]
pub async fn get_metrics(State(state): State<ApiState>) -> Response {
    ([(header::CONTENT_TYPE, "text/plain; version=0.0.4; charset=utf-8")], state.figures.render())
        .into_response()
}
