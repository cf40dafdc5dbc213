use std::io::Write as _;

use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::StoreError;

/// One row in the text format of COPY: fields between tabs, `\N` for null, backslashes before what the
/// format keeps for itself.
pub(super) struct Line<'a> {
    to: &'a mut Vec<u8>,
    first: bool,
}

impl<'a> Line<'a> {
    pub fn on(to: &'a mut Vec<u8>) -> Self {
        Self { to, first: true }
    }

    fn next(&mut self) {
        if !std::mem::take(&mut self.first) {
            self.to.push(b'\t');
        }
    }

    fn shown(mut self, value: impl std::fmt::Display) -> Self {
        self.next();
        // writing into memory cannot fail
        let _ = write!(self.to, "{value}");
        self
    }

    pub fn null(self) -> Self {
        self.shown("\\N")
    }

    pub fn id(self, id: impl Into<Uuid>) -> Self {
        self.shown(id.into())
    }

    pub fn optional_id(self, id: Option<impl Into<Uuid>>) -> Self {
        match id {
            Some(id) => self.id(id),
            None => self.null(),
        }
    }

    pub fn number(self, number: impl Into<i64>) -> Self {
        self.shown(number.into())
    }

    /// The shortest text that reads back to the same number.
    pub fn float(self, number: Option<f64>) -> Self {
        match number {
            Some(number) => self.shown(number),
            None => self.null(),
        }
    }

    /// Hundredths, as a decimal number.
    pub fn money(self, hundredths: i64) -> Self {
        let (units, rest) = (hundredths / 100, (hundredths % 100).abs());
        self.shown(format_args!("{units}.{rest:02}"))
    }

    pub fn truth(self, truth: bool) -> Self {
        self.shown(if truth { "t" } else { "f" })
    }

    pub fn time(self, at: Timestamp) -> Self {
        self.shown(at)
    }

    pub fn optional_time(self, at: Option<Timestamp>) -> Self {
        match at {
            Some(at) => self.time(at),
            None => self.null(),
        }
    }

    pub fn day(self, at: Timestamp) -> Self {
        self.shown(at.instant().date_naive())
    }

    pub fn optional_day(self, at: Option<Timestamp>) -> Self {
        match at {
            Some(at) => self.day(at),
            None => self.null(),
        }
    }

    pub fn text(mut self, text: &str) -> Self {
        self.next();
        for byte in text.bytes() {
            match byte {
                b'\\' => self.to.extend_from_slice(b"\\\\"),
                b'\t' => self.to.extend_from_slice(b"\\t"),
                b'\n' => self.to.extend_from_slice(b"\\n"),
                b'\r' => self.to.extend_from_slice(b"\\r"),
                other => self.to.push(other),
            }
        }
        self
    }

    pub fn optional_text(self, text: Option<&str>) -> Self {
        match text {
            Some(text) => self.text(text),
            None => self.null(),
        }
    }

    pub fn json(self, value: &impl Serialize) -> Result<Self, StoreError> {
        let json = serde_json::to_string(value).map_err(|reason| StoreError::BadRow {
            table: "bulk",
            column: "payload",
            row: String::new(),
            reason: reason.to_string(),
        })?;
        Ok(self.text(&json))
    }

    /// Words of the vocabulary, which need no quotes inside an array.
    pub fn words(self, words: &[&str]) -> Self {
        self.shown(format_args!("{{{}}}", words.join(",")))
    }

    pub fn floats(self, numbers: Option<&[f64]>) -> Self {
        match numbers {
            Some(numbers) => {
                let numbers: Vec<String> = numbers.iter().map(ToString::to_string).collect();
                self.shown(format_args!("{{{}}}", numbers.join(",")))
            }
            None => self.null(),
        }
    }

    pub fn bytes(mut self, bytes: &[u8]) -> Self {
        self.next();
        self.to.extend_from_slice(b"\\\\x");
        for byte in bytes {
            let _ = write!(self.to, "{byte:02x}");
        }
        self
    }

    /// The hash of a row that nobody will send again.
    pub fn no_hash(self) -> Self {
        self.bytes(&[])
    }

    pub fn end(self) {
        self.to.push(b'\n');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_format_keeps_for_itself_is_escaped() {
        let mut to = Vec::new();
        Line::on(&mut to)
            .text("a\tb\\c\nd")
            .null()
            .number(7)
            .money(-1205)
            .bytes(&[1, 255])
            .words(&["a", "b"])
            .end();
        assert_eq!(String::from_utf8(to).unwrap(), "a\\tb\\\\c\\nd\t\\N\t7\t-12.05\t\\\\x01ff\t{a,b}\n");
    }
}
