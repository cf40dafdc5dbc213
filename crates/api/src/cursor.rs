//! Opaque list cursors: where the next page begins, bound to the filters it was made for, signed.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use hmac::{Hmac, KeyInit, Mac};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::problem::Problem;

/// Signs cursors.
#[derive(Clone)]
pub struct CursorKey(Vec<u8>);

impl std::fmt::Debug for CursorKey {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("CursorKey(…)")
    }
}

#[derive(Serialize, Deserialize)]
struct Content<P> {
    /// The filters' hash.
    f: String,
    p: P,
}

const TAG: usize = 16;

impl CursorKey {
    pub fn new(secret: &[u8]) -> Self {
        Self(secret.to_vec())
    }

    fn tag(&self, content: &[u8]) -> Vec<u8> {
        #[expect(clippy::expect_used, reason = "HMAC takes a key of any length")]
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.0).expect("a key of any length");
        mac.update(content);
        mac.finalize().into_bytes()[..TAG].to_vec()
    }

    /// A cursor to this position of the list with these filters.
    pub fn seal(&self, filters: &impl Serialize, position: &impl Serialize) -> Result<String, Problem> {
        let content = json(&Content { f: fingerprint(filters)?, p: position })?;
        let mut bytes = self.tag(&content);
        bytes.extend(content);
        Ok(URL_SAFE_NO_PAD.encode(bytes))
    }

    /// The position in a cursor of ours that was made for these filters and came in this parameter.
    pub fn open<P: for<'a> Deserialize<'a>>(
        &self,
        filters: &impl Serialize,
        parameter: &str,
        cursor: &str,
    ) -> Result<P, Problem> {
        let refuse = |detail: &str| Problem::bad_parameter(parameter, detail);
        let bytes = URL_SAFE_NO_PAD.decode(cursor).unwrap_or_default();
        let (tag, content) = bytes.split_at_checked(TAG).unwrap_or_default();
        if content.is_empty() || !equal(tag, &self.tag(content)) {
            return Err(refuse("is not a cursor that this service made; begin again without one"));
        }
        let content: Content<P> = serde_json::from_slice(content)
            .map_err(|_| refuse("is of an older kind; begin again without one"))?;
        if content.f != fingerprint(filters)? {
            return Err(refuse(
                "was made for other filters or another order; keep them, or begin again without it",
            ));
        }
        Ok(content.p)
    }
}

fn fingerprint(filters: &impl Serialize) -> Result<String, Problem> {
    Ok(URL_SAFE_NO_PAD.encode(&Sha256::digest(json(filters)?)[..9]))
}

/// A cursor that was cut short would begin somewhere else.
fn json(content: &impl Serialize) -> Result<Vec<u8>, Problem> {
    serde_json::to_vec(content).map_err(|error| {
        tracing::error!(%error, "a cursor cannot be written as JSON");
        Problem::internal()
    })
}

/// Compares without telling by its time how much was equal.
fn equal(left: &[u8], right: &[u8]) -> bool {
    left.len() == right.len()
        && left.iter().zip(right).fold(0, |difference, (a, b)| difference | (a ^ b)) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_opens_only_with_its_key_and_its_filters() {
        let key = CursorKey::new(b"one");
        let cursor = key.seal(&("site", 7), &42).unwrap();
        assert_eq!(key.open::<i32>(&("site", 7), "cursor", &cursor).unwrap(), 42);
        assert!(
            key.open::<i32>(&("site", 8), "cursor", &cursor).unwrap_err().detail.contains("other filters")
        );
        assert!(CursorKey::new(b"two").open::<i32>(&("site", 7), "cursor", &cursor).is_err());
        assert!(key.open::<i32>(&("site", 7), "cursor", "").is_err());
        assert!(key.open::<i32>(&("site", 7), "cursor", "not base64 !").is_err());
        let no_json = std::collections::BTreeMap::from([((1, 2), 3)]);
        assert_eq!(key.seal(&("site", 7), &no_json).unwrap_err().status(), 500, "never an empty one");
    }
}
