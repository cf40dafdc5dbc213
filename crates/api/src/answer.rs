//! How handlers answer.

use application::{Caller, Refusal, UseCase};
use application::{KeptAnswer, KeyedRequest};
use axum::body::Body;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::problem::Problem;
use crate::state::ApiState;

/// A successful answer with JSON, before it is put on the wire (or kept for its Idempotency-Key).
pub struct Answer(KeptAnswer);

/// An answer and what is kept of it for its Idempotency-Key: all, unless it holds what nobody may read later.
pub struct Rendered {
    given: Answer,
    kept: Option<Answer>,
}

impl From<Answer> for Rendered {
    fn from(given: Answer) -> Self {
        Self { given, kept: None }
    }
}

impl Answer {
    pub fn json(status: StatusCode, view: &impl Serialize) -> Result<Self, Refusal> {
        let body = serde_json::to_vec(view).map_err(|error| Refusal::Internal(error.to_string()))?;
        let headers = vec![("content-type".to_owned(), "application/json".to_owned())];
        Ok(Self(KeptAnswer { status: status.as_u16(), headers, body }))
    }

    pub fn empty() -> Self {
        Self(KeptAnswer { status: StatusCode::NO_CONTENT.as_u16(), headers: Vec::new(), body: Vec::new() })
    }

    /// 201 for a new item, 200 for a repeated create; both say where it lies and which version it has.
    pub fn created(
        is_new: bool,
        location: String,
        version: i64,
        view: &impl Serialize,
    ) -> Result<Self, Refusal> {
        let status = if is_new { StatusCode::CREATED } else { StatusCode::OK };
        Ok(Self::json(status, view)?.with("location", location).versioned(version))
    }

    #[must_use]
    pub fn versioned(self, version: i64) -> Self {
        self.with("etag", format!("\"{version}\""))
    }

    #[must_use]
    pub fn with(mut self, name: &str, value: String) -> Self {
        self.0.headers.push((name.to_owned(), value));
        self
    }

    /// A repeated request gets `other` in this answer's place.
    pub fn kept_as(self, other: Self) -> Rendered {
        Rendered { given: self, kept: Some(other) }
    }
}

impl IntoResponse for Answer {
    fn into_response(self) -> Response {
        let mut response = Response::new(Body::from(self.0.body));
        *response.status_mut() = StatusCode::from_u16(self.0.status).unwrap_or(StatusCode::OK);
        for (name, value) in self.0.headers {
            if let (Ok(name), Ok(value)) = (header::HeaderName::try_from(name), HeaderValue::from_str(&value))
            {
                response.headers_mut().append(name, value);
            }
        }
        response
    }
}

/// Carries a use case out and renders its outcome. With an Idempotency-Key, a repeated request gets the
/// first one's answer; `request` is what makes it the same request.
pub async fn carry_out<U: UseCase, R: Into<Rendered>>(
    state: &ApiState,
    caller: &Caller,
    key: Option<String>,
    request: &impl Serialize,
    use_case: U,
    render: impl FnOnce(U::Outcome) -> Result<R, Refusal> + Send + 'static,
) -> Result<Response, Problem> {
    let key = match key {
        None => None,
        Some(key) => Some(KeyedRequest {
            person: caller.principal.person,
            operation: U::NAME.to_owned(),
            key,
            request_sha256: fingerprint(request)?,
        }),
    };
    let render = |outcome| {
        let Rendered { given, kept } = render(outcome)?.into();
        Ok(application::Rendered { given: given.0, kept: kept.map(|kept| kept.0) })
    };
    let answer = state.application.answer(caller, key, use_case, render).await?;
    Ok(Answer(answer).into_response())
}

fn fingerprint(request: &impl Serialize) -> Result<Vec<u8>, Refusal> {
    let bytes = serde_json::to_vec(request).map_err(|error| Refusal::Internal(error.to_string()))?;
    Ok(Sha256::digest(bytes).to_vec())
}

/// An item with its version as ETag.
pub fn item(view: &impl Serialize, version: i64) -> Result<Response, Problem> {
    Ok(Answer::json(StatusCode::OK, view)?.versioned(version).into_response())
}

/// JSON without a version.
pub fn json(view: &impl Serialize) -> Result<Response, Problem> {
    Ok(Answer::json(StatusCode::OK, view)?.into_response())
}

/// JSON that is computed from much else: its ETag is the hash of the answer itself.
pub fn hashed(view: &impl Serialize) -> Result<Response, Problem> {
    let answer = Answer::json(StatusCode::OK, view)?;
    let hash = Sha256::digest(&answer.0.body);
    let tag = URL_SAFE_NO_PAD.encode(&hash[..12]);
    Ok(answer.with("etag", format!("\"{tag}\"")).into_response())
}
