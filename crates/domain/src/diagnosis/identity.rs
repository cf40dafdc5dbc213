//! Fingerprints of what an answer was computed from, by which answers are cached and replayed.

use serde::Serialize;
use sha2::{Digest, Sha256};

use super::case::Case;
use crate::equipment::{FaultCatalogue, Model};
use crate::procedure::Procedure;

/// Changes whenever the same input may give another answer.
pub const ENGINE_VERSION: u32 = 13;

/// SHA-256, in hexadecimal, of the canonical JSON of everything that tables are made from: fields in the
/// order of their declaration, maps sorted by key, numbers in their shortest exact form.
pub(super) fn of_knowledge(catalogue: &FaultCatalogue, model: &Model, procedures: &[Procedure]) -> String {
    digest(&(ENGINE_VERSION, catalogue, model, procedures))
}

/// SHA-256, in hexadecimal, of a case under some tables: the key under which its answer may be kept.
pub(super) fn of_input(tables: &str, case: &Case) -> String {
    digest(&(ENGINE_VERSION, tables, case))
}

pub(super) fn digest(value: &impl Serialize) -> String {
    let mut hasher = Sha256::new();
    // Only a map whose keys are no strings could fail, and there is none.
    let json = serde_json::to_vec(value).unwrap_or_default();
    hasher.update(&json);
    hasher.finalize().iter().fold(String::with_capacity(64), |mut text, byte| {
        use std::fmt::Write;
        let _ = write!(text, "{byte:02x}");
        text
    })
}
