//! Who is at risk at each age: those who had entered, without those who had left.

use super::Life;

/// Entries, exits and failures, each in order, so that a set at risk is a matter of two searches and not of all lives.
pub(super) struct RiskSets {
    entries: Vec<f64>,
    exits: Vec<f64>,
    failures: Vec<f64>,
}

fn in_order(ages: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut ages: Vec<f64> = ages.collect();
    ages.sort_unstable_by(f64::total_cmp);
    ages
}

/// How many of them lie before an age.
fn before(ages: &[f64], age: f64) -> usize {
    ages.partition_point(|other| *other < age)
}

impl RiskSets {
    pub(super) fn of(lives: &[Life]) -> Self {
        Self {
            entries: in_order(lives.iter().map(|life| life.entry)),
            exits: in_order(lives.iter().map(|life| life.exit)),
            failures: in_order(lives.iter().filter(|life| life.failed).map(|life| life.exit)),
        }
    }

    /// The ages at which something failed, rising, each once.
    pub(super) fn failure_ages(&self) -> Vec<f64> {
        let mut ages = self.failures.clone();
        ages.dedup();
        ages
    }

    /// Those at risk at an age, from after their entry to their exit, and those of them that failed at it.
    pub(super) fn at(&self, age: f64) -> (u32, u32) {
        let at_risk = before(&self.entries, age) - before(&self.exits, age);
        let failed = self.failures.partition_point(|other| *other <= age) - before(&self.failures, age);
        (at_risk as u32, failed as u32)
    }
}
