//! Bounded text without NUL: what people type, kept as they typed it.

use serde::{Deserialize, Serialize};

/// Text of `MIN` to `MAX` Unicode scalar values without U+0000, which JSON can carry and Postgres
/// cannot store.
///
/// ```
/// use domain::text::{Name, TextError};
/// assert_eq!(Name::new("Harbour kitchen").unwrap().as_str(), "Harbour kitchen");
/// assert_eq!(Name::new("").unwrap_err(), TextError::TooShort { minimum: 1 });
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String")]
pub struct Text<const MIN: usize, const MAX: usize>(String);

/// A name, a label, a serial number.
pub type Name = Text<1, 200>;
/// A short machine-readable key of the catalogue is a [`crate::text::Key`]; this is a sentence or a page.
pub type Words = Text<1, 4000>;

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    #[error("must have at least {minimum} character(s)")]
    TooShort { minimum: usize },
    #[error("must have at most {maximum} characters, has {actual}")]
    TooLong { maximum: usize, actual: usize },
    #[error("must not contain the character U+0000")]
    ContainsNul,
    #[error(
        "must be of lower-case letters, digits and underscores, begin with a letter, and have at most 64 characters"
    )]
    NotAKey,
}

impl<const MIN: usize, const MAX: usize> Text<MIN, MAX> {
    pub const MINIMUM: usize = MIN;
    pub const MAXIMUM: usize = MAX;

    pub fn new(text: impl Into<String>) -> Result<Self, TextError> {
        let text = text.into();
        let actual = text.chars().count();
        if text.contains('\0') {
            Err(TextError::ContainsNul)
        } else if actual < MIN {
            Err(TextError::TooShort { minimum: MIN })
        } else if actual > MAX {
            Err(TextError::TooLong { maximum: MAX, actual })
        } else {
            Ok(Self(text))
        }
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl<const MIN: usize, const MAX: usize> TryFrom<String> for Text<MIN, MAX> {
    type Error = TextError;

    fn try_from(text: String) -> Result<Self, TextError> {
        Self::new(text)
    }
}

impl<const MIN: usize, const MAX: usize> std::fmt::Display for Text<MIN, MAX> {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.0)
    }
}

/// A key of the catalogue or of a list: `fill_valve`, `does_not_clean`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String")]
pub struct Key(String);

impl Key {
    pub const MAXIMUM: usize = 64;

    pub fn new(text: impl Into<String>) -> Result<Self, TextError> {
        let text = text.into();
        let is_key = text.len() <= Self::MAXIMUM
            && text.starts_with(|c: char| c.is_ascii_lowercase())
            && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
        if is_key { Ok(Self(text)) } else { Err(TextError::NotAKey) }
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for Key {
    type Error = TextError;

    fn try_from(text: String) -> Result<Self, TextError> {
        Self::new(text)
    }
}

impl std::fmt::Display for Key {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nul_and_length_are_refused() {
        assert_eq!(Name::new("a\0b"), Err(TextError::ContainsNul));
        assert_eq!(Name::new("x".repeat(201)), Err(TextError::TooLong { maximum: 200, actual: 201 }));
        assert!(Name::new("ü".repeat(200)).is_ok(), "length counts characters, not bytes");
    }

    #[test]
    fn keys_are_lower_case_words() {
        assert!(Key::new("fill_valve").is_ok());
        for bad in ["", "Fill", "1st", "fill valve", &"k".repeat(65)] {
            assert_eq!(Key::new(bad), Err(TextError::NotAKey), "{bad}");
        }
    }
}
