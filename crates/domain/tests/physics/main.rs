//! The physics against values from outside the project: standards, handbooks, worked examples and
//! general reference libraries, each with its source in `tests/reference`. Every record of a topic's
//! file is checked within its own tolerance; a record that nothing here computes fails the test.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is a failed check")]

mod electrical;
mod flow;
mod heat;
mod probes;
#[path = "../statistics/record.rs"]
mod record;
mod water;

use record::{Record, Records};

/// Checks every record of a file; `compute` gives all the values that the record expects.
fn check(json: &str, compute: impl Fn(&Record) -> Vec<f64>) {
    let records = Records::read(json);
    for record in records.all() {
        record.check(&compute(&record));
    }
}

/// No rule of a topic knows this record.
fn unknown(record: &Record) -> Vec<f64> {
    panic!("nothing computes {}: {}", record.id(), record.quantity())
}
