//! The whole call in minutes, until the repair is proven and nobody calls again: tests, looks, repairs, the proof
//! and what it shows, the second journey for a part that the van lacks, and callbacks about what was left.
//!
//! Every policy works on the same machine with the same readings, decides by the same diagnosis and pays the same for
//! the same work, so that they differ in what they test and when they stop. The outcome of the full cycle is hidden
//! from all of them until they prove with it. What is done and read again is not followed.

use std::collections::BTreeSet;

use domain::diagnosis::{
    Advice, CarryLimits, Case, FoundState, NextTest, Observed, PriorFinding, Tables, TestAdvice, next_test,
    parts_within, probabilities,
};
use domain::equipment::{Fault, Mandatory, Model, ObservationKey};
use domain::procedure::Procedure;
use domain::text::Key;

use crate::labelled::{INTAKE, Labelled};
use crate::world::World;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    /// As the engine advises.
    Engine,
    /// Every test, then what is decided.
    WholeChecklist,
    /// The shortest test first, until one fault exceeds [`SURE`].
    CheapestFirst,
    /// No test: the most probable fault is mended and proven, then the next.
    FirstLikely,
}

impl Policy {
    pub const ALL: [Self; 4] = [Self::Engine, Self::WholeChecklist, Self::CheapestFirst, Self::FirstLikely];

    pub const fn name(self) -> &'static str {
        match self {
            Self::Engine => "engine",
            Self::WholeChecklist => "whole checklist",
            Self::CheapestFirst => "cheapest first until one fault exceeds 0.8",
            Self::FirstLikely => "mend the first likely thing and prove",
        }
    }
}

/// Where cheapest first stops.
const SURE: f64 = 0.8;
/// Places of the van.
const PLACES: u32 = 4;
/// Whoever has not proven it by then comes back with somebody else.
const MOST_PROOFS: u64 = 5;
const PROOF: &str = "full_cycle";

/// Minutes of one call.
#[derive(Debug, Clone, Copy, Default)]
pub struct Minutes {
    /// Tests and the looks that are due in any case.
    pub tests: f64,
    /// With the price of parts, as the catalogue's losses have it.
    pub repairs: f64,
    pub proofs: f64,
    /// Second journeys, for a part or because no proof was had.
    pub journeys: f64,
    /// Expected, about what was left.
    pub callbacks: f64,
}

impl Minutes {
    pub fn all(&self) -> f64 {
        self.tests + self.repairs + self.proofs + self.journeys + self.callbacks
    }
}

/// What all calls of one tier have in common.
pub struct Repairs<'a> {
    pub tables: &'a Tables,
    pub model: &'a Model,
    pub procedures: &'a [Procedure],
    pub world: World<'a>,
}

impl Repairs<'_> {
    /// `None` where something stands that nobody described, and so nobody mends.
    pub fn minutes(&self, labelled: &Labelled) -> Option<[Minutes; 4]> {
        if !labelled.truth.other_in.is_empty() {
            return None;
        }
        let limits = CarryLimits { price: None, places: Some(PLACES) };
        let (carried, _) = parts_within(self.tables, &labelled.after(&BTreeSet::new()), limits);
        Some(Policy::ALL.map(|policy| self.call(labelled, policy, &carried)))
    }

    fn call(&self, labelled: &Labelled, policy: Policy, carried: &[Key]) -> Minutes {
        let losses = &self.tables.catalogue().losses;
        let mut spent = Minutes::default();
        let mut mended: BTreeSet<Key> = BTreeSet::new();
        let mut now = labelled.clone();
        for proof in 1..=MOST_PROOFS {
            let mut epoch = Epoch::new(self, &now, proof, &mended);
            let mend = epoch.work(policy);
            spent.tests += epoch.minutes;
            let new: Vec<&Fault> = mend
                .iter()
                .filter(|key| !mended.contains(*key))
                .filter_map(|key| self.tables.catalogue().fault(key.as_str()))
                .collect();
            let is_carried =
                |fault: &&Fault| fault.remedy.parts.iter().all(|need| carried.contains(&need.part));
            spent.repairs += new.iter().map(|fault| losses.needless(fault)).sum::<f64>();
            if !new.iter().all(is_carried) {
                spent.journeys += losses.missed_fault_minutes;
            }
            mended.extend(mend);
            spent.proofs += self.minutes_of(PROOF);
            now = self.world.again(labelled, &mended, proof);
            if !self.fails(&now.case) {
                break;
            }
            if proof == MOST_PROOFS {
                spent.journeys += losses.missed_fault_minutes;
            }
        }
        spent.callbacks = self.callbacks(labelled, &mended);
        spent
    }

    /// Of what is left each makes somebody call at its rate; the next visit finds it by its telling test.
    fn callbacks(&self, labelled: &Labelled, mended: &BTreeSet<Key>) -> f64 {
        let catalogue = self.tables.catalogue();
        let losses = &catalogue.losses;
        let left = labelled.truth.faults.difference(mended).filter_map(|key| catalogue.fault(key.as_str()));
        let left: Vec<&Fault> = left.collect();
        let calls: f64 = left.iter().map(|fault| fault.calls_per_year).sum();
        let repairs: f64 = left.iter().map(|fault| losses.needless(fault)).sum();
        let called = 1.0 - libm::exp(-calls * losses.callback_days / 365.25);
        called * (losses.missed_fault_minutes + losses.shown_by_proof_minutes + repairs)
    }

    fn minutes_of(&self, procedure: &str) -> f64 {
        self.procedures.iter().find(|of| of.key.as_str() == procedure).map_or(0.0, |of| of.minutes)
    }

    /// Whether the cycle shows that something is wrong: an answer that is not the sound one, or a number beyond its
    /// limit.
    fn fails(&self, case: &Case) -> bool {
        let seen =
            |key: &ObservationKey| case.observations.iter().find(|of| of.key == *key).map(|of| &of.seen);
        let looks_wrong = self.tables.catalogue().inspections.iter().any(|inspection| {
            inspection.key.procedure() == PROOF
                && matches!(seen(&inspection.key), Some(Observed::Choice(of)) if inspection.choice(of) > Some(0))
        });
        looks_wrong
            || self.model.functional_limits.iter().filter(|limit| limit.of.procedure.as_str() == PROOF).any(
                |limit| {
                    let Ok(bounds) = limit.canonical() else { return false };
                    let below = |value: f64| bounds.lower.is_some_and(|lower| value < lower);
                    let above = |value: f64| bounds.upper.is_some_and(|upper| value > upper);
                    match seen(&ObservationKey::from(&limit.of)) {
                        Some(Observed::Value(of)) => below(of.value) || above(of.value),
                        Some(Observed::AtLeast(of)) => above(of.value),
                        _ => false,
                    }
                },
            )
    }
}

/// The time between two proofs.
struct Epoch<'a> {
    of: &'a Repairs<'a>,
    now: &'a Labelled,
    is_first: bool,
    findings: Vec<PriorFinding>,
    done: BTreeSet<Key>,
    minutes: f64,
}

impl<'a> Epoch<'a> {
    fn new(of: &'a Repairs<'a>, now: &'a Labelled, proof: u64, mended: &BTreeSet<Key>) -> Self {
        let found = |fault: &Key| PriorFinding { fault: fault.clone(), state: FoundState::Mended };
        let findings = mended.iter().map(found).collect();
        let is_first = proof == 1;
        let mut epoch = Self { of, now, is_first, findings, done: BTreeSet::new(), minutes: 0.0 };
        if is_first {
            let due = of.tables.catalogue().mandatory.iter();
            let looks = due.filter(|of| of.when == Mandatory::Always && of.procedure.as_str() != PROOF);
            looks.for_each(|look| epoch.take(&look.procedure));
        } else {
            // what the proof that failed has shown
            epoch.done.extend(Key::new(PROOF));
        }
        epoch
    }

    fn take(&mut self, procedure: &Key) {
        if self.can_take(procedure) && self.done.insert(procedure.clone()) {
            self.minutes += self.of.minutes_of(procedure.as_str());
        }
    }

    /// What the machine's checklist does not hold cannot be done.
    fn can_take(&self, procedure: &Key) -> bool {
        self.now.case.done.contains(procedure) && procedure.as_str() != PROOF && procedure.as_str() != INTAKE
    }

    fn known(&self) -> Case {
        let epoch = u32::from(!self.is_first);
        Case { findings: self.findings.clone(), epoch, ..self.now.after(&self.done) }
    }

    /// Tests as the policy would; what is mended then.
    fn work(&mut self, policy: Policy) -> Vec<Key> {
        match policy {
            Policy::Engine => self.as_advised(),
            Policy::WholeChecklist if self.is_first => {
                let all: Vec<Key> = self.now.case.done.iter().cloned().collect();
                for procedure in &all {
                    self.take(procedure);
                }
                self.decided(&next_test(self.of.tables, &self.known()))
            }
            Policy::WholeChecklist | Policy::CheapestFirst => self.cheapest_first(),
            Policy::FirstLikely => self.most_probable().into_iter().map(|(fault, _)| fault).collect(),
        }
    }

    fn as_advised(&mut self) -> Vec<Key> {
        loop {
            let next = next_test(self.of.tables, &self.known());
            let is_open = |test: &&TestAdvice| {
                !self.done.contains(&test.procedure) && test.order.iter().all(|key| self.can_take(key))
            };
            let best = next.tests.iter().find(is_open);
            let advised = match &next.advice {
                Advice::Test(test) => {
                    next.tests.iter().filter(is_open).find(|of| of.order[0] == test.procedure)
                }
                Advice::DoAndReadAgain(_) => None,
                Advice::MendAndProve | Advice::Isolate => return self.decided(&next),
            };
            let Some(test) = advised.or_else(|| best.filter(|test| test.is_worth_it())) else {
                return self.decided(&next);
            };
            let next = test.order.iter().find(|key| !self.done.contains(*key)).cloned();
            if let Some(procedure) = &next {
                self.take(procedure);
            }
        }
    }

    fn cheapest_first(&mut self) -> Vec<Key> {
        let next = next_test(self.of.tables, &self.known());
        let is_open = |test: &&TestAdvice| test.order.iter().all(|key| self.can_take(key));
        let mut tests: Vec<&TestAdvice> = next.tests.iter().filter(is_open).collect();
        tests.sort_by(|a, b| a.minutes.total_cmp(&b.minutes).then_with(|| a.procedure.cmp(&b.procedure)));
        for test in tests {
            if self.most_probable().is_some_and(|(_, probability)| probability > SURE) {
                break;
            }
            test.order.iter().for_each(|procedure| self.take(procedure));
        }
        self.decided(&next_test(self.of.tables, &self.known()))
    }

    /// By the catalogue's losses, look-alikes by the first of them; after a proof that failed at least one thing more.
    fn decided(&self, next: &NextTest) -> Vec<Key> {
        let is_mended = |fault: &Key| self.findings.iter().any(|finding| finding.fault == *fault);
        let first = next.mend.iter().filter_map(|mend| mend.faults.iter().find(|fault| !is_mended(fault)));
        let decided: Vec<Key> = first.cloned().collect();
        if decided.is_empty() && !self.is_first {
            return self.most_probable().into_iter().map(|(fault, _)| fault).collect();
        }
        decided
    }

    /// Of what is not mended yet.
    fn most_probable(&self) -> Option<(Key, f64)> {
        let is_mended = |fault: &Key| self.findings.iter().any(|finding| finding.fault == *fault);
        let faults = probabilities(self.of.tables, &self.known()).faults.into_iter();
        faults.filter(|(fault, _)| !is_mended(fault)).max_by(|a, b| a.1.total_cmp(&b.1))
    }
}
