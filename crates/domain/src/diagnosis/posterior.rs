//! From weights to probabilities: of each fault, of whole sets of faults, and of there being none.

use super::elimination::Table;
use super::tables::HypothesisKind;
use super::weighing::{Part, Weighing};

/// Probabilities under the evidence of one case.
pub(super) struct Posterior {
    /// P(evidence and call), up to the factor `exp(log_scale)`.
    pub z: f64,
    /// By hypothesis.
    pub marginals: Vec<f64>,
    /// Most probable first.
    pub sets: Vec<ProbableSet>,
    /// P(no fault of the machine; states of building and use may stand).
    pub machine_sound: f64,
    /// P(nothing at all).
    pub nothing: f64,
    /// One for each part.
    pub environments: Vec<Table>,
}

/// A whole set of hypotheses.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ProbableSet {
    /// By part, the index of the set of that subsystem.
    pub sets: Vec<usize>,
    /// Indices of hypotheses, ascending.
    pub members: Vec<usize>,
    pub probability: f64,
}

/// How far down the most probable sets are sought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Depth {
    pub least_probability: f64,
    pub most: usize,
}

impl Depth {
    pub const USUAL: Self = Self { least_probability: 0.002, most: 16 };
    /// Neither sets nor what there is none of.
    pub const NONE: Self = Self { least_probability: 1.0, most: 0 };
}

impl Posterior {
    pub fn of(weighing: &Weighing, depth: Depth) -> Self {
        let part_tables: Vec<Table> = weighing.parts.iter().map(|part| part.table(|_| true)).collect();
        let (z, environments) = weighing.environments(&part_tables);
        let by_part: Vec<Vec<f64>> = weighing
            .parts
            .iter()
            .zip(&environments)
            .map(|(part, environment)| set_probabilities(part, environment, z))
            .collect();
        let mut marginals = vec![0.0; weighing.tables.hypotheses.len()];
        for (part, probabilities) in weighing.parts.iter().zip(&by_part) {
            let sets = &weighing.tables.subsystems[part.subsystem].sets;
            for (set, probability) in sets.iter().zip(probabilities) {
                for member in &set.members {
                    marginals[*member] += probability;
                }
            }
        }
        for marginal in &mut marginals {
            *marginal = marginal.clamp(0.0, 1.0);
        }
        let mut posterior =
            Self { z, marginals, sets: Vec::new(), machine_sound: 0.0, nothing: 0.0, environments };
        if depth == Depth::NONE {
            return posterior;
        }
        posterior.machine_sound = share(weighing, &part_tables, z, |members| {
            members.iter().all(|member| is_external(weighing, *member))
        });
        posterior.nothing = share(weighing, &part_tables, z, <[usize]>::is_empty);
        posterior.sets = probable_sets(weighing, &by_part, z, depth);
        posterior
    }
}

/// P(set) for the sets of one part.
fn set_probabilities(part: &Part, environment: &Table, z: f64) -> Vec<f64> {
    part.calls
        .iter()
        .enumerate()
        .map(|(index, calls)| {
            let weights = &part.weights[index * part.size..(index + 1) * part.size];
            let sum: f64 = weights
                .iter()
                .zip(environment)
                .map(|(weight, environment)| weight * (environment.all + calls * environment.calls))
                .sum();
            (sum / z).max(0.0)
        })
        .collect()
}

pub(super) fn is_external(weighing: &Weighing, hypothesis: usize) -> bool {
    match weighing.tables.hypotheses[hypothesis].kind {
        HypothesisKind::Fault(fault) => weighing.tables.catalogue.faults[fault].is_external(),
        HypothesisKind::Other => false,
    }
}

/// The probability that every subsystem holds one of the sets that `keep`.
pub(super) fn share(weighing: &Weighing, whole: &[Table], z: f64, keep: impl Fn(&[usize]) -> bool) -> f64 {
    share_by_part(weighing, whole, z, |_, members| keep(members))
}

/// The same where `keep` is asked for the sets of each subsystem, by its index.
pub(super) fn share_by_part(
    weighing: &Weighing,
    whole: &[Table],
    z: f64,
    keep: impl Fn(usize, &[usize]) -> bool,
) -> f64 {
    let restricted: Vec<Option<Table>> = weighing
        .parts
        .iter()
        .map(|part| {
            let sets = &weighing.tables.subsystems[part.subsystem].sets;
            let keeps: Vec<bool> = sets.iter().map(|set| keep(part.subsystem, &set.members)).collect();
            let all = keeps.iter().all(|keep| *keep);
            (!all).then(|| part.table(|set| keeps[set]))
        })
        .collect();
    let tables = restricted.iter().zip(whole).map(|(restricted, whole)| restricted.as_ref().unwrap_or(whole));
    (weighing.evidence_of(tables) / z).clamp(0.0, 1.0)
}

/// The most probable sets with their exact probabilities. A whole set is never more probable than its
/// part in any one subsystem, which bounds the search.
fn probable_sets(weighing: &Weighing, by_part: &[Vec<f64>], z: f64, depth: Depth) -> Vec<ProbableSet> {
    let choices: Vec<Vec<(usize, f64)>> = by_part
        .iter()
        .map(|probabilities| {
            let mut choices: Vec<(usize, f64)> = probabilities
                .iter()
                .copied()
                .enumerate()
                .filter(|(_, probability)| *probability > depth.least_probability)
                .collect();
            choices.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
            if choices.is_empty() {
                choices.push((0, 0.0));
            }
            choices
        })
        .collect();
    let mut sets: Vec<ProbableSet> = best_products(&choices, depth.most + depth.most / 2)
        .into_iter()
        .map(|sets| {
            let tables: Vec<Table> = weighing
                .parts
                .iter()
                .zip(&sets)
                .map(|(part, set)| part.table(|index| index == *set))
                .collect();
            let weight = weighing.evidence_of(&tables);
            let mut members: Vec<usize> = weighing
                .parts
                .iter()
                .zip(&sets)
                .flat_map(|(part, set)| &weighing.tables.subsystems[part.subsystem].sets[*set].members)
                .copied()
                .collect();
            members.sort_unstable();
            ProbableSet { sets, members, probability: (weight / z).clamp(0.0, 1.0) }
        })
        .filter(|set| set.probability > depth.least_probability)
        .collect();
    sets.sort_by(|a, b| b.probability.total_cmp(&a.probability).then_with(|| a.members.cmp(&b.members)));
    sets.truncate(depth.most);
    sets
}

/// The combinations of one entry from each list with the largest products, largest first; lists are
/// sorted, largest first.
fn best_products(choices: &[Vec<(usize, f64)>], most: usize) -> Vec<Vec<usize>> {
    let log = |part: usize, rank: usize| choices[part][rank].1.max(1e-300).ln();
    let product =
        |ranks: &[usize]| ranks.iter().enumerate().map(|(part, rank)| log(part, *rank)).sum::<f64>();
    let first = vec![0; choices.len()];
    let mut open = vec![(product(&first), first)];
    let mut found: Vec<Vec<usize>> = Vec::new();
    while found.len() < most {
        let Some(best) = (0..open.len()).max_by(|a, b| open[*a].0.total_cmp(&open[*b].0)) else { break };
        let (_, ranks) = open.swap_remove(best);
        // Only ranks behind the last raised one may be raised, so that each combination comes up once.
        let from = ranks.iter().rposition(|rank| *rank > 0).unwrap_or(0);
        for part in from..ranks.len() {
            let mut raised = ranks.clone();
            raised[part] += 1;
            if raised[part] < choices[part].len() {
                open.push((product(&raised), raised));
            }
        }
        found.push(ranks);
    }
    let entries =
        |ranks: Vec<usize>| ranks.into_iter().enumerate().map(|(part, rank)| choices[part][rank].0).collect();
    found.into_iter().map(entries).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn best_products_come_in_order_and_once() {
        let choices =
            vec![vec![(4, 0.7), (1, 0.2), (2, 0.1)], vec![(0, 0.9), (3, 0.1)], vec![(0, 0.5), (1, 0.5)]];
        let all = best_products(&choices, 100);
        assert_eq!(all.len(), 12);
        let value = |sets: &[usize]| -> f64 {
            sets.iter()
                .enumerate()
                .map(|(part, set)| choices[part].iter().find(|(s, _)| s == set).unwrap().1)
                .product()
        };
        assert!(all.windows(2).all(|pair| value(&pair[0]) >= value(&pair[1]) - 1e-12));
        let distinct: std::collections::BTreeSet<_> = all.iter().collect();
        assert_eq!(distinct.len(), 12);
        assert_eq!(best_products(&choices, 3).len(), 3);
    }
}
