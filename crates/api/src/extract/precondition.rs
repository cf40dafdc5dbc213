use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderValue, header};

use crate::problem::{Kind, Problem, ProblemFault};
use crate::state::ApiState;

/// The version that an `If-Match` header names, out of the ETag that the resource was read with.
pub struct IfMatch(pub i64);

impl FromRequestParts<ApiState> for IfMatch {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &ApiState) -> Result<Self, Problem> {
        let Some(value) = parts.headers.get(header::IF_MATCH) else {
            let detail = "read the resource and send its ETag as If-Match, so that nobody's change is lost";
            return Err(Problem::new(Kind::PRECONDITION_REQUIRED, detail)
                .with_faults(vec![ProblemFault::header("If-Match", detail)]));
        };
        version(value).map(Self).ok_or_else(|| {
            let detail =
                "names another kind of version; send the one strong ETag that the resource was read with";
            Problem::new(Kind::STALE, detail).with_faults(vec![ProblemFault::header("If-Match", detail)])
        })
    }
}

/// `"7"` or, read through compression, `"7-gzip"`.
fn version(value: &HeaderValue) -> Option<i64> {
    let text = value.to_str().ok()?.trim();
    let inside = text.strip_prefix('"')?.strip_suffix('"')?;
    without_coding(inside).parse().ok()
}

/// A tag without the suffix that the compression layer adds to keep it strong.
fn without_coding(tag: &str) -> &str {
    tag.strip_suffix("-gzip").or_else(|| tag.strip_suffix("-br")).unwrap_or(tag)
}

/// Whether one of the tags of an `If-None-Match` header is this ETag (weak comparison, RFC 9110 8.8.3.2).
pub fn tag_matches(wanted: &HeaderValue, etag: &HeaderValue) -> bool {
    let opaque =
        |text: &str| without_coding(text.trim().trim_start_matches("W/").trim_matches('"')).to_owned();
    let (Ok(wanted), Ok(etag)) = (wanted.to_str(), etag.to_str()) else { return false };
    wanted.trim() == "*" || wanted.split(',').any(|tag| opaque(tag) == opaque(etag))
}

/// The `Idempotency-Key` header, if one was sent.
pub struct IdempotencyKey(pub Option<String>);

impl FromRequestParts<ApiState> for IdempotencyKey {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &ApiState) -> Result<Self, Problem> {
        let Some(value) = parts.headers.get("idempotency-key") else { return Ok(Self(None)) };
        if let Some(key) = key(value) {
            return Ok(Self(Some(key.to_owned())));
        }
        let detail = "an Idempotency-Key has 1 to 200 visible ASCII characters; a UUID does well";
        Err(Problem::new(Kind::MALFORMED, detail)
            .with_faults(vec![ProblemFault::header("Idempotency-Key", detail)]))
    }
}

/// The key as it was sent, quotes and all: two spellings are two keys.
fn key(value: &HeaderValue) -> Option<&str> {
    let text = value.to_str().ok()?;
    ((1..=200).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_graphic())).then_some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_read_through_compression_names_the_same_version() {
        assert_eq!(version(&HeaderValue::from_static("\"7\"")), Some(7));
        assert_eq!(version(&HeaderValue::from_static("\"7-gzip\"")), Some(7));
        assert_eq!(version(&HeaderValue::from_static("W/\"7\"")), None, "If-Match compares strongly");
        assert_eq!(version(&HeaderValue::from_static("7")), None);
        let etag = HeaderValue::from_static("\"7\"");
        assert!(tag_matches(&HeaderValue::from_static("\"6\", W/\"7-br\""), &etag));
        assert!(!tag_matches(&HeaderValue::from_static("\"70\""), &etag));
    }

    #[test]
    fn an_idempotency_key_is_what_the_document_says_it_is() {
        for good in ["\"\"", "\"7\"", "!", &"~".repeat(200)] {
            assert_eq!(key(&HeaderValue::from_str(good).unwrap()), Some(good));
        }
        for bad in ["", "a b", "a\tb", &"~".repeat(201)] {
            assert_eq!(key(&HeaderValue::from_str(bad).unwrap()), None, "{bad:?}");
        }
        assert_eq!(key(&HeaderValue::from_bytes(b"\xe9").unwrap()), None);
    }
}
