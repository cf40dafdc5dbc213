//! An invented service company: branches with their kitchens, machines and people, living day by day.
//!
//! A branch is the unit of simulation: its people and machines know nothing of other branches and draw
//! from their own stream of chance, so that a company of any size needs the memory of the branches that
//! are being run, and two of them may run side by side.

mod branch;
mod call;
mod catalogue;
mod job;
mod planned;
mod repair;
mod setting_up;
mod site;
mod testing;
mod visit;

pub use branch::Branch;
pub use catalogue::{CURRENCY, Catalogue, large_combi, large_combi_faults};

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc;

use domain::time::Timestamp;

use crate::clock::{DAY, Moment, day_of, moment, timestamp};
use crate::history::{Dated, Entry};

/// What sort of company, and for how long.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    pub seed: u64,
    pub kitchens: usize,
    pub kitchens_of_a_branch: usize,
    pub start: Timestamp,
    pub days: u32,
    /// Share of the full checklist that technicians usually take: 1 is all that is usual.
    pub thoroughness: f64,
    /// Share of the passed tests before a repair that are written down at all.
    pub written_down: f64,
    /// Record the parts that machines came with, so that their lives can be counted.
    pub original_parts: bool,
    /// Begin with a handful of stories for a newcomer to follow.
    pub stories: bool,
    /// Take the whole checklist at each call for the labelled cases, beside the company's own work.
    pub cases: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum InvalidSettings {
    #[error("a company needs at least one kitchen, and one kitchen to a branch")]
    NoKitchens,
    #[error("the history must begin in 1980 or later and end before 2200")]
    OutOfTime,
    #[error("thoroughness must be greater than 0 and at most 1, the share written down from 0 to 1")]
    Thoroughness,
}

impl Settings {
    /// Some forty kitchens and two years.
    pub fn demo(seed: u64) -> Self {
        Self {
            seed,
            kitchens: 40,
            kitchens_of_a_branch: 10,
            start: timestamp(START),
            days: 731,
            thoroughness: 1.0,
            written_down: 1.0,
            original_parts: false,
            stories: true,
            cases: false,
        }
    }

    /// At least 20,000 kitchens, 60,000 machines, 500,000 orders and 5,000,000 readings, over four years that are
    /// past.
    pub fn benchmark(seed: u64) -> Self {
        Self {
            kitchens: 26_500,
            kitchens_of_a_branch: 50,
            start: timestamp(BENCHMARK_START),
            days: 1_461,
            written_down: 0.05,
            stories: false,
            ..Self::demo(seed)
        }
    }

    fn check(&self) -> Result<(), InvalidSettings> {
        let start = moment(self.start);
        let end = start + i64::from(self.days) * DAY;
        if self.kitchens == 0 || self.kitchens_of_a_branch == 0 {
            Err(InvalidSettings::NoKitchens)
        } else if start < EARLIEST || end > LATEST {
            Err(InvalidSettings::OutOfTime)
        } else if !(self.thoroughness > 0.0
            && self.thoroughness <= 1.0
            && (0.0..=1.0).contains(&self.written_down))
        {
            Err(InvalidSettings::Thoroughness)
        } else {
            Ok(())
        }
    }

    pub fn branches(&self) -> usize {
        self.kitchens.div_ceil(self.kitchens_of_a_branch)
    }
}

/// 1 January 2024, 2022, 1980 and 2200.
const START: Moment = 19_723 * DAY;
const BENCHMARK_START: Moment = 18_993 * DAY;
const EARLIEST: Moment = 3_652 * DAY;
const LATEST: Moment = 84_006 * DAY;

/// A company that has not begun to live.
#[derive(Debug, Clone)]
pub struct Company {
    settings: Arc<Settings>,
    catalogue: Arc<Catalogue>,
}

impl Company {
    pub fn new(settings: Settings) -> Result<Self, InvalidSettings> {
        settings.check()?;
        let catalogue = Arc::new(Catalogue::of(&settings));
        Ok(Self { settings: Arc::new(settings), catalogue })
    }

    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// What the company was set up with, before any branch: its own models and the parts.
    pub fn set_up(&self) -> Vec<Dated> {
        let at = self.settings.start;
        self.catalogue.entries().map(|entry| Dated { at, by: None, entry }).collect()
    }

    /// One branch, to be run day by day.
    pub fn branch(&self, index: usize) -> Branch {
        Branch::new(self.settings.clone(), self.catalogue.clone(), index)
    }

    /// All entries in the order of time, a few branches' worth of memory. `progress` is told the days
    /// done, out of [`Settings::days`].
    pub fn history(&self, progress: impl FnMut(u64)) -> History<impl FnMut(u64)> {
        let branches: Vec<_> = (0..self.settings.branches()).map(|index| self.branch(index)).collect();
        let first_day = day_of(moment(self.settings.start));
        History { ready: self.set_up().into(), branches, first_day, progress }
    }
}

/// The entries of a company in the order of time.
pub struct History<P: FnMut(u64)> {
    ready: std::collections::VecDeque<Dated>,
    branches: Vec<Branch>,
    first_day: i64,
    progress: P,
}

impl<P: FnMut(u64)> Iterator for History<P> {
    type Item = Dated;

    fn next(&mut self) -> Option<Dated> {
        while self.ready.is_empty() {
            let day = self.branches.first()?.day();
            let mut today: Vec<Vec<Dated>> = Vec::with_capacity(self.branches.len());
            for branch in &mut self.branches {
                match branch.next_day() {
                    Some(entries) => today.push(entries),
                    None => return None,
                }
            }
            self.ready = merged(today);
            (self.progress)((day - self.first_day + 1).unsigned_abs());
        }
        self.ready.pop_front()
    }
}

/// Merges sorted lists, the earlier list first among equals.
fn merged(lists: Vec<Vec<Dated>>) -> std::collections::VecDeque<Dated> {
    let mut queue = BinaryHeap::new();
    let mut lists: Vec<_> = lists.into_iter().map(|list| list.into_iter().peekable()).collect();
    for (index, list) in lists.iter_mut().enumerate() {
        if let Some(first) = list.peek() {
            queue.push(Reverse((first.at, index)));
        }
    }
    let mut merged = std::collections::VecDeque::new();
    while let Some(Reverse((_, index))) = queue.pop() {
        merged.extend(lists[index].next());
        if let Some(next) = lists[index].peek() {
            queue.push(Reverse((next.at, index)));
        }
    }
    merged
}

/// How many entries of each kind, for progress and for checks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Totals {
    pub entries: u64,
    pub sites: u64,
    pub appliances: u64,
    pub orders: u64,
    pub test_runs: u64,
    pub readings: u64,
    pub findings: u64,
    pub part_lines: u64,
}

impl Totals {
    pub fn add(&mut self, other: &Self) {
        self.entries += other.entries;
        self.sites += other.sites;
        self.appliances += other.appliances;
        self.orders += other.orders;
        self.test_runs += other.test_runs;
        self.readings += other.readings;
        self.findings += other.findings;
        self.part_lines += other.part_lines;
    }
    pub fn count(&mut self, entry: &Entry) {
        self.entries += 1;
        match entry {
            Entry::Site(_) => self.sites += 1,
            Entry::Appliance(_) => self.appliances += 1,
            Entry::WorkOrder(_) => self.orders += 1,
            Entry::TestRun(run) => {
                self.test_runs += 1;
                self.readings += run.readings.len() as u64;
            }
            Entry::Finding(_) => self.findings += 1,
            Entry::PartLine(_) => self.part_lines += 1,
            _ => {}
        }
    }
}

#[cfg(test)]
mod replay;
#[cfg(test)]
mod tests;
