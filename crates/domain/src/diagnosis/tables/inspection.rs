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

/// Probability that an undescribed fault shows at an inspection of its subsystem; at one of a part itself it
/// hardly does, for then the fault would be the part's, which is described.
const UNKNOWN_SHOWS: f64 = 0.5;
const UNKNOWN_SHOWS_ON_A_PART: f64 = 0.02;

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
            let any = if inspection.of_part { UNKNOWN_SHOWS_ON_A_PART } else { UNKNOWN_SHOWS };
            let shows: Vec<(usize, f64)> =
                (0..choices).map(|choice| (choice, any / choices as f64)).collect();
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

/// The weights g with which `P(read) = Σ_c g(c)·P(true ≤ c)`, from what is read of each true choice.
pub(in crate::diagnosis) fn thresholds(given: &[f64]) -> Vec<f64> {
    let after = given.iter().skip(1).copied().chain([0.0]);
    given.iter().zip(after).map(|(this, next)| this - next).collect()
}

impl InspectionTable {
    /// By true choice, P(read).
    pub fn given(&self, read: usize) -> Vec<f64> {
        self.confusion.iter().map(|row| row[read]).collect()
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
