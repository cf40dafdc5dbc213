//! The diagnosis against exact inference from outside the project: general-purpose libraries and
//! closed forms, each with its source in `tests/reference`. Every record there must be checked here,
//! and every check names its record.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is a failed check")]

mod exact_inference;
#[path = "../statistics/record.rs"]
mod record;
mod scores;
