//! The statistics of known-good references, repeats and lives against values from outside the project:
//! published tables, worked examples and general reference libraries, each with its source in
//! `tests/reference`. Every record there must be checked here, and every check names its record.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is a failed check")]

mod chains;
mod control_charts;
mod event_rates;
mod listing;
mod lives;
mod random;
mod record;
mod tolerance_limits;
