//! The one error of the interface: RFC 9457 problem details, for every 4xx and 5xx.

use application::{Fault, Listed, Refusal, StoreError};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use domain::work::Missing;
use serde::Serialize;
use utoipa::ToSchema;

/// What went wrong, and what would be right (RFC 9457).
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Problem {
    /// Which kind of problem: a member of the closed catalogue below `/problems/`.
    #[serde(rename = "type")]
    #[schema(format = "uri-reference", max_length = 200, example = "/problems/invalid")]
    pub kind: String,
    #[schema(max_length = 200, example = "What was sent is not valid")]
    pub title: String,
    #[schema(minimum = 400, maximum = 599, example = 422)]
    pub status: u16,
    #[schema(max_length = 4000)]
    pub detail: String,
    /// Names this request in the service's logs.
    #[schema(max_length = 200)]
    pub request_id: String,
    /// Every fault that was found, not only the first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false, max_items = 1000)]
    pub errors: Vec<ProblemFault>,
    /// What has to be there before a refused move is allowed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<crate::schema::Words>, required = false, max_items = 100)]
    pub missing: Vec<String>,
    #[serde(skip)]
    headers: Vec<(header::HeaderName, HeaderValue)>,
}

/// One fault, and where it lies: in the body, in a parameter, or in a header.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ProblemFault {
    /// JSON Pointer (RFC 6901) into the body; empty for the body as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 1000, nullable = false)]
    pub pointer: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 200, nullable = false)]
    pub parameter: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 200, nullable = false)]
    pub header: Option<String>,
    #[schema(max_length = 4000)]
    pub detail: String,
}

impl ProblemFault {
    pub fn pointer(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { pointer: Some(pointer.into()), parameter: None, header: None, detail: detail.into() }
    }

    pub fn parameter(parameter: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { pointer: None, parameter: Some(parameter.into()), header: None, detail: detail.into() }
    }

    pub fn header(header: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { pointer: None, parameter: None, header: Some(header.into()), detail: detail.into() }
    }
}

/// One member of the closed catalogue of problems.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kind {
    pub slug: &'static str,
    pub status: StatusCode,
    pub title: &'static str,
}

macro_rules! catalogue {
    ($($constant:ident = $slug:literal, $status:ident, $title:literal;)+) => {
        impl Kind {
            $(pub const $constant: Self = Self { slug: $slug, status: StatusCode::$status, title: $title };)+
            pub const ALL: &'static [Self] = &[$(Self::$constant),+];
        }
    };
}

catalogue! {
    MALFORMED = "malformed", BAD_REQUEST, "The request cannot be read";
    UNAUTHENTICATED = "unauthenticated", UNAUTHORIZED, "A valid bearer token is needed";
    INSUFFICIENT_SCOPE = "insufficient-scope", FORBIDDEN, "The token does not reach this far";
    WRONG_ROLE = "wrong-role", FORBIDDEN, "This role may not do this";
    NOT_FOUND = "not-found", NOT_FOUND, "There is no such thing here";
    METHOD_NOT_ALLOWED = "method-not-allowed", METHOD_NOT_ALLOWED, "This address does not take this method";
    NOT_ACCEPTABLE = "not-acceptable", NOT_ACCEPTABLE, "None of the accepted media types can be given";
    TIMED_OUT = "timed-out", REQUEST_TIMEOUT, "The request took too long to arrive or to answer";
    CONFLICT = "conflict", CONFLICT, "This clashes with what is stored";
    ID_TAKEN = "id-taken", CONFLICT, "The id belongs to something else";
    NOT_NOW = "not-now", CONFLICT, "This move is not allowed now";
    KEY_BUSY = "key-busy", CONFLICT, "A request with this Idempotency-Key is still running";
    STALE = "stale", PRECONDITION_FAILED, "It was changed in the meantime";
    TOO_LARGE = "too-large", PAYLOAD_TOO_LARGE, "The request is too large";
    MEDIA_TYPE = "media-type", UNSUPPORTED_MEDIA_TYPE, "The body has the wrong media type";
    INVALID = "invalid", UNPROCESSABLE_ENTITY, "What was sent is not valid";
    CLOCK_TO_SET = "clock-to-set", UNPROCESSABLE_ENTITY, "The device's clock is wrong";
    KEY_REUSED = "key-reused", UNPROCESSABLE_ENTITY, "The Idempotency-Key was used for another request";
    PRECONDITION_REQUIRED = "precondition-required", PRECONDITION_REQUIRED, "An If-Match header is needed";
    TOO_MANY = "too-many-requests", TOO_MANY_REQUESTS, "Too many requests";
    HEADERS_TOO_LARGE = "headers-too-large", REQUEST_HEADER_FIELDS_TOO_LARGE, "The header fields are too large";
    INTERNAL = "internal", INTERNAL_SERVER_ERROR, "The service failed";
    OVERLOADED = "overloaded", SERVICE_UNAVAILABLE, "The service cannot answer now";
}

impl Kind {
    /// The kind that stands for a bare status of the framework's own.
    pub fn of_status(status: StatusCode) -> Self {
        let known = Self::ALL.iter().find(|kind| kind.status == status).copied();
        known.unwrap_or(if status.is_server_error() { Self::INTERNAL } else { Self::MALFORMED })
    }
}

/// The document's `maxItems` of a problem's `errors`.
const MOST_FAULTS: usize = 1000;

impl Problem {
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        Self {
            kind: format!("/problems/{}", kind.slug),
            title: kind.title.to_owned(),
            status: kind.status.as_u16(),
            detail: detail.into(),
            request_id: String::new(),
            errors: Vec::new(),
            missing: Vec::new(),
            headers: Vec::new(),
        }
    }

    #[must_use]
    pub fn with_faults(mut self, faults: Vec<ProblemFault>) -> Self {
        self.errors = faults;
        self.errors.truncate(MOST_FAULTS);
        self
    }

    #[must_use]
    pub fn with_header(mut self, name: header::HeaderName, value: HeaderValue) -> Self {
        self.headers.push((name, value));
        self
    }

    pub fn not_found(what: &str) -> Self {
        Self::new(Kind::NOT_FOUND, format!("there is no such {what}"))
    }

    pub fn invalid(faults: Vec<ProblemFault>) -> Self {
        let detail = faults.first().map_or_else(String::new, |fault| fault.detail.clone());
        Self::new(Kind::INVALID, detail).with_faults(faults)
    }

    pub fn bad_parameter(parameter: &str, detail: impl Into<String>) -> Self {
        let detail = detail.into();
        Self::new(Kind::MALFORMED, detail.clone())
            .with_faults(vec![ProblemFault::parameter(parameter, detail)])
    }

    pub fn status(&self) -> StatusCode {
        StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        Refusal::from(error).into()
    }
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Self {
        let words = refusal.to_string();
        match refusal {
            Refusal::InsufficientScope { needed } => {
                let challenge = format!("Bearer error=\"insufficient_scope\", scope=\"{needed}\"");
                let problem = Self::new(Kind::INSUFFICIENT_SCOPE, words);
                match HeaderValue::from_str(&challenge) {
                    Ok(value) => problem.with_header(header::WWW_AUTHENTICATE, value),
                    Err(_) => problem,
                }
            }
            Refusal::WrongRole { .. } => Self::new(Kind::WRONG_ROLE, words),
            Refusal::NotFound { .. } => Self::new(Kind::NOT_FOUND, words),
            Refusal::IdTaken { .. } => Self::new(Kind::ID_TAKEN, words),
            Refusal::Conflict { .. } => Self::new(Kind::CONFLICT, words),
            Refusal::Missing(missing) => {
                let missing = missing.iter().map(with_operation).collect();
                Self { missing, ..Self::new(Kind::NOT_NOW, words) }
            }
            Refusal::NotNow { missing, .. } => Self { missing, ..Self::new(Kind::NOT_NOW, words) },
            Refusal::Stale { .. } => Self::new(Kind::STALE, words),
            Refusal::Invalid(faults) => Self::invalid(faults.into_iter().map(Into::into).collect()),
            Refusal::KeyBusy => Self::new(Kind::KEY_BUSY, words),
            Refusal::KeyUsedForAnother => Self::new(Kind::KEY_REUSED, words),
            Refusal::Store(error @ StoreError::Unavailable(_)) => {
                tracing::error!(reasons = error.reasons(), "the database is unavailable");
                let detail = if error.is_out_of_room() {
                    "the database's disk is full: nothing was written, and what is kept can be read; tell the operator, and \
                     try again when there is room"
                } else {
                    "the database cannot be reached; try again shortly"
                };
                Self::new(Kind::OVERLOADED, detail)
                    .with_header(header::RETRY_AFTER, HeaderValue::from_static("5"))
            }
            Refusal::Store(error) => {
                tracing::error!(reasons = error.reasons(), "the store failed");
                Self::internal()
            }
            Refusal::Internal(reason) => {
                tracing::error!(reason, "a use case failed");
                Self::internal()
            }
        }
    }
}

/// What is missing, and by which operation it comes about where that is not one of the order.
fn with_operation(missing: &Missing) -> String {
    match missing {
        Missing::Release => format!("{missing} (POST /v1/appliances/{{id}}/actions/release)"),
        other => other.to_string(),
    }
}

impl From<Fault> for ProblemFault {
    fn from(fault: Fault) -> Self {
        let list = fault.listed.map(|listed| match listed {
            Listed::Models => "; GET /v1/models lists them",
            Listed::Procedures => "; GET /v1/procedures lists them",
            Listed::Faults => "; GET /v1/faults lists them",
        });
        Self::pointer(fault.pointer, fault.detail + list.unwrap_or_default())
    }
}

impl Problem {
    pub fn internal() -> Self {
        Self::new(Kind::INTERNAL, "the fault is ours and is logged under this request_id")
    }
}

impl IntoResponse for Problem {
    /// The body is written by the outermost layer, which knows the request's id.
    fn into_response(self) -> Response {
        let mut response = self.status().into_response();
        for (name, value) in &self.headers {
            response.headers_mut().append(name, value.clone());
        }
        response.extensions_mut().insert(self);
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slugs_are_unique_and_every_status_maps_to_a_kind_of_that_status() {
        for (index, kind) in Kind::ALL.iter().enumerate() {
            assert!(!Kind::ALL[..index].iter().any(|other| other.slug == kind.slug), "{}", kind.slug);
            assert_eq!(Kind::of_status(kind.status).status, kind.status);
        }
    }

    #[test]
    fn a_body_full_of_faults_is_answered_within_the_documents_bounds() {
        let problem =
            Problem::new(Kind::ALL[0], "").with_faults(vec![ProblemFault::pointer("/x", "y"); 1500]);
        assert_eq!(problem.errors.len(), MOST_FAULTS);
    }
}
