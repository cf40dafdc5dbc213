use super::{Hypothesis, HypothesisKind};
use crate::diagnosis::node::Node;
use crate::equipment::{FaultCatalogue, Follows, Inspection, Subsystem, Switch};

/// An inspection with its parents. The true choice is the furthest down the list that any parent puts
/// it to (noisy-MAX; with two choices noisy-OR), so that `P(true ≤ c) = Π F_j(c)` over the faults that
/// stand; what is read comes from the true choice by the confusion matrix.
pub(in crate::diagnosis) struct InspectionTable {
    /// By true choice, the probabilities of reading each choice.
    pub confusion: Vec<Vec<f64>>,
    /// By hypothesis: F_j(c) for each choice, where the hypothesis is a parent.
    pub parents: Vec<Option<Vec<f64>>>,
    /// The same for the switches it follows, when they are off.
    pub follows: Vec<(Node, Vec<f64>)>,
    /// The subsystem that holds all its parents, if one does.
    pub within: Option<Subsystem>,
}

/// Probability that an undescribed fault shows at an inspection of its subsystem.
const UNKNOWN_SHOWS: f64 = 0.5;

pub(super) fn tables(catalogue: &FaultCatalogue, hypotheses: &[Hypothesis]) -> Vec<InspectionTable> {
    catalogue.inspections.iter().map(|inspection| table(inspection, catalogue, hypotheses)).collect()
}

fn table(inspection: &Inspection, catalogue: &FaultCatalogue, hypotheses: &[Hypothesis]) -> InspectionTable {
    let choices = inspection.choices.len();
    let mut parents: Vec<Option<Vec<f64>>> = hypotheses
        .iter()
        .map(|hypothesis| match hypothesis.kind {
            HypothesisKind::Fault(fault) => {
                let shows: Vec<(usize, f64)> = catalogue.faults[fault]
                    .shows
                    .iter()
                    .filter(|shows| shows.at == inspection.key)
                    .filter_map(|shows| Some((inspection.choice(&shows.choice)?, shows.probability)))
                    .collect();
                (!shows.is_empty()).then(|| cumulative(choices, &shows))
            }
            HypothesisKind::Other => None,
        })
        .collect();
    let follows: Vec<(Node, Vec<f64>)> =
        inspection.follows.iter().filter_map(|follows| follow(inspection, follows)).collect();
    let mut subsystems: Vec<Subsystem> = hypotheses
        .iter()
        .zip(&parents)
        .filter(|(_, parent)| parent.is_some())
        .map(|(hypothesis, _)| hypothesis.subsystem)
        .chain(inspection.follows.iter().map(|follows| follows.switch.subsystem()))
        .collect();
    subsystems.sort_unstable();
    subsystems.dedup();
    for (hypothesis, parent) in hypotheses.iter().zip(&mut parents) {
        if hypothesis.kind == HypothesisKind::Other && subsystems.contains(&hypothesis.subsystem) {
            let shows: Vec<(usize, f64)> =
                (0..choices).map(|choice| (choice, UNKNOWN_SHOWS / choices as f64)).collect();
            *parent = Some(cumulative(choices, &shows));
        }
    }
    let within = if let [one] = subsystems[..] { Some(one) } else { None };
    InspectionTable { parents, confusion: catalogue.read_as(inspection), follows, within }
}

/// P(true ≤ c) for one parent: what it does not show stays at the first choice.
fn cumulative(choices: usize, shows: &[(usize, f64)]) -> Vec<f64> {
    (0..choices)
        .map(|choice| {
            let beyond: f64 =
                shows.iter().filter(|(shown, _)| *shown > choice).map(|(_, probability)| probability).sum();
            (1.0 - beyond).max(0.0)
        })
        .collect()
}

fn follow(inspection: &Inspection, follows: &Follows) -> Option<(Node, Vec<f64>)> {
    let node = match follows.switch {
        Switch::FillOutput => Node::FillOutput,
        Switch::WashOutput => Node::WashOutput,
        Switch::HeatOutput => Node::HeatOutput,
        Switch::DoorMade => Node::DoorMade,
        Switch::WashPowered => Node::WashPowered,
    };
    let shown = inspection.choice(&follows.choice)?;
    Some((node, cumulative(inspection.choices.len(), &[(shown, follows.probability)])))
}

impl InspectionTable {
    /// `P(read | true ≤ c steps)`: the weights g with which `P(read) = Σ_c g(c)·P(true ≤ c)`.
    pub fn weights(&self, read: usize) -> Vec<f64> {
        let confusion = &self.confusion;
        (0..confusion.len())
            .map(|choice| {
                let next = confusion.get(choice + 1).map_or(0.0, |row| row[read]);
                confusion[choice][read] - next
            })
            .collect()
    }

    /// `P(true ≤ choice)` as far as some faults decide.
    pub fn up_to(&self, members: &[usize], choice: usize) -> f64 {
        let parents = members.iter().filter_map(|member| self.parents[*member].as_ref());
        parents.map(|parent| parent[choice]).product()
    }

    /// `P(true ≤ choice)` as far as switches decide that are off.
    pub fn when_off(&self, switched_off: &[Node], choice: usize) -> f64 {
        let off = self.follows.iter().filter(|(node, _)| switched_off.contains(node));
        off.map(|(_, factors)| factors[choice]).product()
    }
}
