//! Testing a case test by test, in the order of a policy, with what the engine says after each.
//!
//! Mandatory tests are done whatever they tell: their readings are known from the start and their
//! minutes are counted nowhere. What a test shows is what the case's whole checklist holds of it.

use std::collections::BTreeSet;

use domain::diagnosis::{NextTest, Tables, next_test};
use domain::equipment::Mandatory;
use domain::procedure::Procedure;
use domain::text::Key;

use crate::judged::Judged;
use crate::labelled::{Labelled, Naming};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    /// The engine's: the largest expected fall of the loss per minute.
    Engine,
    /// The test of the fewest minutes, those that it needs counted in.
    CheapestFirst,
}

/// The state after some tests.
#[derive(Debug, Clone)]
pub struct Station {
    /// Of the tests so far.
    pub minutes: f64,
    pub judged: Judged,
}

/// What is followed: where a policy stops.
#[derive(Debug, Clone)]
pub struct Course {
    /// By each of [`WORTHS`].
    stops: Vec<Station>,
    /// Of the whole checklist.
    pub checklist_minutes: f64,
    /// Advice whose procedure bears cautions, and advice that did not show all of them.
    pub advised: usize,
    pub without_caution: usize,
}

/// Where one may stop: least expected fall of the loss per minute, ascending.
pub const WORTHS: [f64; 7] = [0.2, 0.35, 0.6, 1.0, 1.7, 3.0, 6.0];

impl Course {
    pub fn of(
        tables: &Tables,
        procedures: &[Procedure],
        naming: &Naming,
        case: &Labelled,
        policy: Policy,
    ) -> Self {
        let is_mandatory = |key: &Key| {
            let always = tables.catalogue().mandatory.iter().filter(|test| test.when == Mandatory::Always);
            always.into_iter().any(|test| test.procedure == *key)
        };
        let minutes = |key: &Key| procedures.iter().find(|of| of.key == *key).map_or(0.0, |of| of.minutes);
        let all = &case.case.done;
        let mut done: BTreeSet<Key> = all.iter().filter(|key| is_mandatory(key)).cloned().collect();
        let mut course = Self {
            stops: Vec::new(),
            checklist_minutes: all.iter().filter(|key| !is_mandatory(key)).map(minutes).sum(),
            advised: 0,
            without_caution: 0,
        };
        let mut spent = 0.0;
        // By worth, from the largest.
        let mut stops: Vec<Station> = Vec::new();
        loop {
            let known = case.after(&done);
            let next = next_test(tables, &known);
            course.count_cautions(&next, procedures);
            // What this case's checklist does not hold cannot be done in it.
            let possible = next.tests.iter().filter(|test| test.order.iter().all(|key| all.contains(key)));
            let worth = domain::diagnosis::TestAdvice::worth;
            let best = possible.clone().max_by(|a, b| worth(a).total_cmp(&worth(b)));
            let least = best.map_or(0.0, worth);
            let reached = WORTHS.iter().filter(|worth| **worth >= least).count();
            if reached > stops.len() {
                let judged = Judged::of(tables, naming, case, &known);
                stops.resize(reached, Station { minutes: spent, judged });
            }
            let end = reached == WORTHS.len();
            let chosen = match policy {
                Policy::Engine => best,
                Policy::CheapestFirst => possible.min_by(|a, b| {
                    a.minutes.total_cmp(&b.minutes).then_with(|| a.procedure.cmp(&b.procedure))
                }),
            };
            let Some(key) = chosen.filter(|_| !end).and_then(|test| test.order.first()) else { break };
            spent += minutes(key);
            done.insert(key.clone());
        }
        course.stops = stops.into_iter().rev().collect();
        course
    }

    /// Where one stops who goes on as long as a test saves more than `worth`, one of [`WORTHS`], of its
    /// minutes.
    pub fn stop(&self, worth: f64) -> &Station {
        let at = WORTHS.iter().position(|of| *of >= worth).unwrap_or(WORTHS.len() - 1);
        &self.stops[at]
    }

    /// Advice is safe only if it shows every caution of its procedure, and every procedure that can
    /// hurt bears one.
    fn count_cautions(&mut self, next: &NextTest, procedures: &[Procedure]) {
        let advised = match &next.advice {
            domain::diagnosis::Advice::Test(test) => Some(test),
            domain::diagnosis::Advice::DoAndReadAgain(again) => Some(&again.read),
            domain::diagnosis::Advice::MendAndProve | domain::diagnosis::Advice::Isolate => None,
        };
        for test in advised.into_iter().chain(&next.mandatory) {
            self.advised += 1;
            let procedure = procedures.iter().find(|of| of.key == test.procedure);
            let shown = procedure.is_some_and(|of| {
                of.cautions.iter().all(|caution| test.cautions.contains(caution)) && is_warned_of(of)
            });
            self.without_caution += usize::from(!shown);
        }
    }
}

/// Whether the cautions name each danger that the procedure's own data betray.
fn is_warned_of(procedure: &Procedure) -> bool {
    let says = |words: &[&str]| {
        let texts = procedure.cautions.iter().map(|caution| caution.text.as_str().to_lowercase());
        texts.into_iter().any(|text| words.iter().any(|word| text.contains(word)))
    };
    let skilled = |skill: &str| procedure.skills.iter().any(|key| key.as_str() == skill);
    let live = !skilled("live_electrical") || says(&["live parts"]);
    let electrical = !skilled("electrical") || says(&["isolate", "prove dead"]);
    let interlock = procedure.defeating_steps().next().is_none() || says(&["defeat"]);
    let about = |word: &str| procedure.key.as_str().contains(word);
    let hot = !["wash", "steam", "heating", "rinse", "cycle", "drain"].iter().any(|word| about(word))
        || says(&["hot"]);
    let caustic = !["chemical", "rinse", "cycle"].iter().any(|word| about(word)) || says(&["chemical burns"]);
    live && electrical && interlock && hot && caustic
}
