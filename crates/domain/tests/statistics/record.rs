//! Reads the records of a reference file and compares numbers with them.

#![allow(dead_code, reason = "shared by several test programs, of which each uses a part")]

use serde_json::Value;
use std::cell::RefCell;
use std::collections::BTreeSet;

/// One record. Its `source` and `provenance` are shown when a check fails.
pub struct Record(Value);

/// The records of one file, which remembers those that were used.
pub struct Records {
    records: Vec<Value>,
    unused: RefCell<BTreeSet<String>>,
}

impl Records {
    pub fn read(json: &str) -> Self {
        let records: Vec<Value> = serde_json::from_str(json).unwrap();
        let unused = records.iter().map(|record| record["id"].as_str().unwrap().to_owned()).collect();
        Self { records, unused: RefCell::new(unused) }
    }

    pub fn get(&self, id: &str) -> Record {
        let record = self.records.iter().find(|record| record["id"] == id);
        self.unused.borrow_mut().remove(id);
        Record(record.unwrap_or_else(|| panic!("no record {id}")).clone())
    }

    /// Every record of the file.
    pub fn all(&self) -> impl Iterator<Item = Record> {
        self.records.iter().cloned().map(Record)
    }

    /// Names records of the file that another test checks.
    pub fn leave(&self, ids: &[&str]) {
        self.unused.borrow_mut().retain(|id| !ids.contains(&id.as_str()));
    }

    /// Fails if a record of the file was not checked.
    pub fn all_used(&self) {
        assert!(self.unused.borrow().is_empty(), "not checked: {:?}", self.unused.borrow());
    }
}

impl Record {
    pub fn id(&self) -> &str {
        self.0["id"].as_str().unwrap()
    }

    pub fn quantity(&self) -> &str {
        self.0["quantity"].as_str().unwrap()
    }

    pub fn text_input(&self, name: &str) -> &str {
        self.0["inputs"][name].as_str().unwrap_or_else(|| panic!("{} has no input {name}", self.id()))
    }

    pub fn input(&self, name: &str) -> f64 {
        self.0["inputs"][name].as_f64().unwrap_or_else(|| panic!("{} has no input {name}", self.0["id"]))
    }

    pub fn inputs(&self, name: &str) -> Vec<f64> {
        numbers(&self.0["inputs"][name])
    }

    pub fn lists(&self, name: &str) -> Vec<Vec<f64>> {
        self.0["inputs"][name].as_array().unwrap().iter().map(numbers).collect()
    }

    pub fn expected(&self) -> Vec<f64> {
        numbers(&self.0["expected"])
    }

    /// Compares with the expected values, all of them, within the record's own tolerance (either of
    /// its two, where it gives both).
    pub fn check(&self, actual: &[f64]) {
        let expected = self.expected();
        assert_eq!(actual.len(), expected.len(), "{}: {actual:?}, expected {expected:?}", self.0["id"]);
        for (index, actual) in actual.iter().enumerate() {
            self.check_one(index, *actual);
        }
    }

    /// Compares with one of the expected values.
    pub fn check_one(&self, index: usize, actual: f64) {
        self.check_within(index, actual, &self.0["tolerance"]);
    }

    /// Compares with a closer tolerance than the record's, where the record holds the value in full.
    pub fn check_closely(&self, index: usize, actual: f64, relative: f64) {
        let recomputed = numbers(&self.0["recomputed"]);
        let expected = recomputed.get(index).copied().unwrap_or_else(|| self.expected()[index]);
        let error = (actual - expected).abs();
        assert!(
            error <= relative * expected.abs(),
            "{}: {actual}, computed elsewhere {expected}",
            self.0["id"]
        );
    }

    fn check_within(&self, index: usize, actual: f64, tolerance: &Value) {
        let expected = self.expected()[index];
        let error = (actual - expected).abs();
        let within = tolerance["abs"].as_f64().is_some_and(|limit| error <= limit)
            || tolerance["rel"].as_f64().is_some_and(|limit| error <= limit * expected.abs());
        assert!(
            within,
            "{} ({}): {actual}, expected {expected} ± {tolerance} after {} ({})",
            self.0["id"], self.0["quantity"], self.0["source"], self.0["provenance"]
        );
    }
}

/// A number or a list of numbers; `null` stands for an infinite limit.
fn numbers(value: &Value) -> Vec<f64> {
    let number = |value: &Value| value.as_f64().unwrap_or(f64::INFINITY);
    value.as_array().map_or_else(|| vec![number(value)], |list| list.iter().map(number).collect())
}

/// Compares within a share of the expected value.
pub fn close(actual: f64, expected: f64, relative: f64, what: &str) {
    let error = (actual - expected).abs();
    assert!(error <= relative * expected.abs(), "{what}: {actual}, expected {expected}");
}
