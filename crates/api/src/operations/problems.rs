use axum::response::Response;
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer;
use crate::extract::Path;
use crate::problem::{Kind, Problem};

/// One kind of problem.
#[derive(Serialize, ToSchema)]
pub struct ProblemKind {
    #[serde(rename = "type")]
    #[schema(max_length = 200)]
    kind: String,
    #[schema(max_length = 200)]
    title: &'static str,
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
}

/// What a problem's `type` means
#[utoipa::path(get, path = "/problems/{slug}", tag = "operations",
    params(("slug" = String, Path, description = "The last part of a problem's `type`", max_length = 64)),
    responses((status = 200, description = "Its title and status", body = ProblemKind)))]
pub async fn get_problem(Path(slug): Path<String>) -> Result<Response, Problem> {
    let kind = Kind::ALL
        .iter()
        .find(|kind| kind.slug == slug)
        .ok_or_else(|| Problem::not_found("kind of problem"))?;
    answer::json(&ProblemKind {
        kind: format!("/problems/{}", kind.slug),
        title: kind.title,
        status: kind.status.as_u16(),
    })
}
