//! Which parts make the next visit the last: `P(S) = Σ posterior(h)` over the sets h whose parts all
//! lie in S.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::elimination::Table;
use super::posterior::{Posterior, share};
use super::tables::HypothesisKind;
use super::weighing::Weighing;
use crate::equipment::{Fault, PartNeed};
use crate::text::Key;

/// Parts with what they add.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PartsToCarry {
    /// P(the job can be ended with no part at all).
    pub without_parts: f64,
    /// In the order in which each adds most to the probability that the visit ends the job, price by
    /// price.
    pub parts: Vec<PartAdvice>,
    /// P(the job can be ended) with all parts that any described fault needs.
    pub with_all_parts: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PartAdvice {
    pub part: Key,
    /// P(the job needs it).
    pub needed: f64,
    /// P(the job can be ended) with this part and those above it.
    pub ends_job: f64,
    pub price: f64,
    pub places: u32,
}

/// What a van may carry for the job.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct CarryLimits {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub places: Option<u32>,
}

/// Parts below this probability are not worth a line.
const LEAST_NEEDED: f64 = 0.01;
const MOST_LINES: usize = 10;
/// Parts among which the best choice is sought exhaustively.
const MOST_EXHAUSTIVE: usize = 12;

/// All parts that may be needed, in the order in which they help.
pub(super) fn to_carry(weighing: &Weighing, posterior: &Posterior) -> PartsToCarry {
    let ends = Ends::new(weighing, posterior.z);
    let mut left = candidates(weighing, posterior);
    left.truncate(MOST_LINES);
    let mut carried = BTreeSet::new();
    let mut parts = Vec::new();
    while !left.is_empty() {
        let with = |need: &PartNeed| {
            let mut parts = carried.clone();
            parts.insert(need.part.clone());
            ends.probability(&parts)
        };
        let best = left
            .iter()
            .enumerate()
            .map(|(index, (need, _))| (index, with(need)))
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
        let Some((index, ends_job)) = best else { break };
        let (need, _) = left.remove(index);
        carried.insert(need.part.clone());
        let needed = 1.0 - ends.without(&need.part);
        parts.push(PartAdvice { part: need.part, needed, ends_job, price: need.price, places: need.places });
    }
    PartsToCarry { without_parts: ends.probability(&BTreeSet::new()), parts, with_all_parts: ends.with_all() }
}

/// The choice of parts that makes the visit most probably the last, within limits.
pub(super) fn within(weighing: &Weighing, posterior: &Posterior, limits: CarryLimits) -> (Vec<Key>, f64) {
    let ends = Ends::new(weighing, posterior.z);
    let mut candidates = candidates(weighing, posterior);
    candidates.truncate(MOST_EXHAUSTIVE);
    // By the leading sets first, which is quick, then exactly for the best of them.
    let needs: Vec<(BTreeSet<Key>, f64)> =
        posterior.sets.iter().map(|set| (parts_of(weighing, &set.members), set.probability)).collect();
    let mut best: (f64, f64, BTreeSet<Key>) = (-1.0, 0.0, BTreeSet::new());
    for choice in 0..1usize << candidates.len() {
        let chosen = candidates.iter().enumerate().filter(|(index, _)| choice >> index & 1 == 1);
        let (mut price, mut places, mut parts) = (0.0, 0, BTreeSet::new());
        for (_, (need, _)) in chosen {
            price += need.price;
            places += need.places;
            parts.insert(need.part.clone());
        }
        if limits.price.is_some_and(|limit| price > limit)
            || limits.places.is_some_and(|limit| places > limit)
        {
            continue;
        }
        let covered: f64 =
            needs.iter().filter(|(need, _)| need.is_subset(&parts)).map(|(_, probability)| probability).sum();
        if covered > best.0 + 1e-12 || (covered > best.0 - 1e-12 && price < best.1) {
            best = (covered, price, parts);
        }
    }
    let probability = ends.probability(&best.2);
    (best.2.into_iter().collect(), probability)
}

/// Parts that may be needed, most probable first.
fn candidates(weighing: &Weighing, posterior: &Posterior) -> Vec<(PartNeed, f64)> {
    let mut needs: Vec<(PartNeed, f64)> = Vec::new();
    for (hypothesis, marginal) in weighing.tables.hypotheses.iter().zip(&posterior.marginals) {
        let HypothesisKind::Fault(fault) = hypothesis.kind else { continue };
        for part in &weighing.tables.catalogue.faults[fault].remedy.parts {
            match needs.iter_mut().find(|(need, _)| need.part == part.part) {
                // Two faults rarely ask for one part at once: the sum does for an order.
                Some((_, needed)) => *needed = (*needed + marginal).min(1.0),
                None => needs.push((part.clone(), *marginal)),
            }
        }
    }
    needs.retain(|(_, needed)| *needed > LEAST_NEEDED);
    needs.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.part.cmp(&b.0.part)));
    needs
}

fn parts_of(weighing: &Weighing, members: &[usize]) -> BTreeSet<Key> {
    members
        .iter()
        .filter_map(|member| fault_of(weighing, *member))
        .flat_map(|fault| fault.remedy.parts.iter().map(|need| need.part.clone()))
        .collect()
}

fn fault_of<'a>(weighing: &Weighing<'a>, hypothesis: usize) -> Option<&'a Fault> {
    match weighing.tables.hypotheses[hypothesis].kind {
        HypothesisKind::Fault(fault) => Some(&weighing.tables.catalogue.faults[fault]),
        HypothesisKind::Other => None,
    }
}

/// Exact probabilities that a visit ends the job. What nobody described cannot be ended.
struct Ends<'a, 'b> {
    weighing: &'a Weighing<'b>,
    whole: Vec<Table>,
    z: f64,
}

impl<'a, 'b> Ends<'a, 'b> {
    fn new(weighing: &'a Weighing<'b>, z: f64) -> Self {
        let whole = weighing.parts.iter().map(|part| part.table(|_| true)).collect();
        Self { weighing, whole, z }
    }

    fn probability(&self, parts: &BTreeSet<Key>) -> f64 {
        self.when(|fault| fault.remedy.parts.iter().all(|need| parts.contains(&need.part)))
    }

    /// P(nothing stands that needs this part).
    fn without(&self, part: &Key) -> f64 {
        share(self.weighing, &self.whole, self.z, |members| {
            members.iter().all(|member| {
                fault_of(self.weighing, *member)
                    .is_none_or(|fault| fault.remedy.parts.iter().all(|need| need.part != *part))
            })
        })
    }

    fn with_all(&self) -> f64 {
        self.when(|_| true)
    }

    fn when(&self, can_end: impl Fn(&Fault) -> bool) -> f64 {
        share(self.weighing, &self.whole, self.z, |members| {
            members.iter().all(|member| fault_of(self.weighing, *member).is_some_and(&can_end))
        })
    }
}
