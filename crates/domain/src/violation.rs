//! What is wrong with data that somebody sent: every violation at once, each with the place where it
//! stands and a sentence that says what would be right.

use serde::{Deserialize, Serialize};

/// One thing that is wrong. `pointer` is a JSON Pointer (RFC 6901) into the value as it was sent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Violation {
    pub pointer: String,
    pub detail: String,
}

/// Collects violations while a value is walked.
#[derive(Debug, Default)]
pub struct Violations(Vec<Violation>);

impl Violations {
    pub fn new() -> Self {
        Self::default()
    }

    pub fn add(&mut self, pointer: impl Into<String>, detail: impl Into<String>) {
        self.0.push(Violation { pointer: pointer.into(), detail: detail.into() });
    }

    /// Adds a violation unless `holds`.
    pub fn require(&mut self, holds: bool, pointer: impl Into<String>, detail: impl Into<String>) {
        if !holds {
            self.add(pointer, detail);
        }
    }

    /// `Ok` if nothing was wrong.
    pub fn finish(self) -> Result<(), Vec<Violation>> {
        if self.0.is_empty() { Ok(()) } else { Err(self.0) }
    }
}

/// One token of a JSON Pointer, escaped (RFC 6901, section 3).
///
/// ```
/// assert_eq!(domain::violation::token("a/b~c"), "a~1b~0c");
/// ```
pub fn token(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
