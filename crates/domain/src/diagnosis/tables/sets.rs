use std::collections::{BTreeMap, HashMap};

use super::severities::{self, Cut, Cutting, Stretch};
use super::{Hypothesis, HypothesisKind, Resolution, cell, sound_parameters};
use crate::diagnosis::circuit::{Circuit, State};
use crate::diagnosis::likelihood::on_scale;
use crate::equipment::{
    Change, Dimension, Fault, FaultCatalogue, MeasurementModel, Parameter, Reads, Subsystem, Target,
};

/// Faults that may stand together in one subsystem.
const MOST_TOGETHER: usize = 4;

/// Some hypotheses of one subsystem standing together, and nothing else of it.
pub(in crate::diagnosis) struct FaultSet {
    /// Indices of hypotheses, ascending.
    pub members: Vec<usize>,
    /// Π λ·d.
    pub odds: f64,
    /// Whether it is the fault that nobody described: its readings can be anything.
    pub unknown: bool,
}

impl FaultSet {
    pub fn has(&self, hypothesis: usize) -> bool {
        self.members.contains(&hypothesis)
    }
}

/// All sets of up to four faults of a subsystem, and the undescribed fault by itself: with something
/// unknown at work, readings of the subsystem say nothing of what else stands there.
pub(super) fn enumerate(members: &[usize], hypotheses: &[Hypothesis]) -> Vec<FaultSet> {
    let (known, unknown): (Vec<usize>, Vec<usize>) =
        members.iter().partition(|index| matches!(hypotheses[**index].kind, HypothesisKind::Fault(_)));
    let odds = |members: &[usize]| members.iter().map(|index| hypotheses[*index].odds).product();
    let known = subsets(&known).into_iter().map(|members| (members, false));
    let unknown = unknown.into_iter().map(|index| (vec![index], true));
    known
        .chain(unknown)
        .map(|(members, unknown)| FaultSet { odds: odds(&members), members, unknown })
        .collect()
}

/// For each set the states to which it leads, as far as the measurements tell them apart, and the
/// states.
pub(super) fn states(
    subsystem: Subsystem,
    measured: &[usize],
    sets: &[FaultSet],
    catalogue: &FaultCatalogue,
    circuit: &Circuit,
    hypotheses: &[Hypothesis],
    resolution: Resolution,
) -> (Vec<Vec<(u32, f64)>>, Vec<State>) {
    let measurements = measured.iter().map(|index| &catalogue.measurements[*index]);
    let after_strainer = measurements.clone().any(|of| of.reads == Reads::PressureAfterStrainer);
    let own: Vec<Own> = measurements
        .filter_map(|measurement| match measurement.reads {
            Reads::Own { healthy, .. } => Some(Own { measurement, healthy }),
            _ => None,
        })
        .collect();
    let mut states = States {
        circuit,
        subsystem,
        after_strainer,
        own: &own,
        resolution: resolution.states,
        cutting: resolution.severities,
        found: HashMap::new(),
        different: Vec::new(),
    };
    let latents = latents(subsystem, catalogue);
    let reached = sets
        .iter()
        .map(|set| {
            let faults: Vec<&Fault> = set
                .members
                .iter()
                .filter_map(|index| match hypotheses[*index].kind {
                    HypothesisKind::Fault(fault) => Some(&catalogue.faults[fault]),
                    HypothesisKind::Other => None,
                })
                .collect();
            states.of(&faults, &latents)
        })
        .collect();
    (reached, states.different)
}

/// Every choice of up to [`MOST_TOGETHER`] of these, the empty one first, smaller ones before larger.
fn subsets(of: &[usize]) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new()];
    let mut from = 0;
    for _ in 0..MOST_TOGETHER {
        let until = all.len();
        for at in from..until {
            let last = all[at].last().copied();
            for candidate in of.iter().filter(|candidate| last.is_none_or(|last| **candidate > last)) {
                let mut larger = all[at].clone();
                larger.push(*candidate);
                all.push(larger);
            }
        }
        from = until;
    }
    all
}

/// A property of the unit that several readings share, on quadrature nodes: factors with weights.
struct Latent {
    parameter: Parameter,
    nodes: Vec<(f64, f64)>,
}

/// Gauss–Hermite nodes for the standard normal distribution, exact for polynomials up to degree 5 and 9.
/// Source: Abramowitz and Stegun, table 25.10, scaled by √2.
pub(in crate::diagnosis) const THREE: [(f64, f64); 3] =
    [(-1.732_050_807_568_877_2, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_807_568_877_2, 1.0 / 6.0)];
const FIVE: [(f64, f64); 5] = [
    (-2.856_970_013_872_805_6, 0.011_257_411_327_720_69),
    (-1.355_626_179_974_266, 0.222_075_922_005_612_64),
    (0.0, 0.533_333_333_333_333_3),
    (1.355_626_179_974_266, 0.222_075_922_005_612_64),
    (2.856_970_013_872_805_6, 0.011_257_411_327_720_69),
];

/// What spreads between sound units and is shared by several readings. A spread that touches one
/// reading only is the same as an error of that reading, and is part of its model error.
fn latents(subsystem: Subsystem, catalogue: &FaultCatalogue) -> Vec<Latent> {
    let of = |parameter, spread: f64, nodes: &[(f64, f64)]| Latent {
        parameter,
        nodes: nodes.iter().map(|(z, weight)| ((z * spread).exp(), *weight)).collect(),
    };
    let spreads = &catalogue.spreads;
    match subsystem {
        Subsystem::Fill => vec![of(Parameter::FillValveKv, spreads.fill_valve_kv, &FIVE)],
        Subsystem::Wash => vec![of(Parameter::PumpHead, spreads.pump_head, &THREE)],
        Subsystem::Heat => vec![of(Parameter::HeatingPower, spreads.heating_power, &THREE)],
        _ => Vec::new(),
    }
}

/// A measurement that is not computed from parameters but has a value of its own in each state.
struct Own<'a> {
    measurement: &'a MeasurementModel,
    healthy: f64,
}

impl Own<'_> {
    /// A tenth of the model's error tells as much as a factor of that much in a parameter.
    fn coordinate(&self, value: f64) -> f64 {
        OWN_COARSENESS * on_scale(self.measurement.scale, value) / self.measurement.model_error
    }
}

const OWN_COARSENESS: f64 = 0.1;

/// Collects different states.
struct States<'a> {
    circuit: &'a Circuit,
    subsystem: Subsystem,
    /// Whether the pressure after the inlet strainer is among what is measured.
    after_strainer: bool,
    own: &'a [Own<'a>],
    resolution: f64,
    cutting: Cutting,
    found: HashMap<Vec<u64>, u32>,
    different: Vec<State>,
}

impl States<'_> {
    /// The states of a set of faults, summed over severities and spreads.
    fn of(&mut self, faults: &[&Fault], latents: &[Latent]) -> Vec<(u32, f64)> {
        let own = self.own;
        let healthy = own.iter().map(|own| (own.healthy, own.healthy)).collect();
        let mut reached = vec![(State { parameters: sound_parameters(), own: healthy }, 1.0)];
        for dimension in faults.iter().flat_map(|fault| fault.dimensions()) {
            let cuts = severities::cut(&dimension, faults.len(), self.cutting);
            reached = reached
                .iter()
                .flat_map(|(state, probability)| {
                    let dimension = &dimension;
                    cuts.iter()
                        .map(move |cut| (changed(state, dimension, cut, own), probability * cut.weight))
                })
                .collect();
        }
        for latent in latents {
            reached = reached
                .iter()
                .flat_map(|(state, probability)| {
                    latent.nodes.iter().map(move |(factor, weight)| {
                        let mut state = state.clone();
                        state.parameters[latent.parameter as usize] *= factor;
                        (state, probability * weight)
                    })
                })
                .collect();
        }
        let mut weights = BTreeMap::new();
        for (state, probability) in reached {
            *weights.entry(self.index(state)).or_insert(0.0) += probability;
        }
        weights.into_iter().collect()
    }

    fn index(&mut self, state: State) -> u32 {
        let own = self.own.iter().zip(&state.own);
        let own = own.flat_map(|(own, (low, high))| [own.coordinate(*low), own.coordinate(*high)]);
        let key = self
            .circuit
            .coordinates(self.subsystem, &state, self.after_strainer)
            .into_iter()
            .chain(own)
            .map(|value| cell(value, self.resolution))
            .collect();
        *self.found.entry(key).or_insert_with(|| {
            self.different.push(state);
            self.different.len() as u32 - 1
        })
    }
}

fn changed(state: &State, dimension: &Dimension, cut: &Cut, own: &[Own]) -> State {
    let mut changed = state.clone();
    for (effect, stretch) in dimension.effects.iter().zip(&cut.values) {
        let change = |value: &mut f64, by: f64| match effect.change {
            Change::Scale(_) => *value *= by,
            Change::Add(_) => *value += by,
        };
        match &effect.on {
            Target::Parameter(parameter) => {
                change(&mut changed.parameters[*parameter as usize], stretch.middle);
            }
            Target::Measurement(key) => {
                let Some(at) = own.iter().position(|own| own.measurement.key == *key) else { continue };
                let Stretch { from, to, .. } = *stretch;
                let (low, high) = &mut changed.own[at];
                change(low, from.min(to));
                change(high, from.max(to));
            }
        }
    }
    changed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn subsets_are_complete_and_different() {
        let subsets = subsets(&[3, 5, 7, 8, 9]);
        assert_eq!(subsets.len(), 1 + 5 + 10 + 10 + 5);
        assert_eq!(subsets[0], Vec::<usize>::new());
        let distinct: std::collections::BTreeSet<_> = subsets.iter().collect();
        assert_eq!(distinct.len(), subsets.len());
    }

    #[test]
    fn quadrature_nodes_have_the_moments_of_the_normal_distribution() {
        for nodes in [&THREE[..], &FIVE[..]] {
            let moment = |power: i32| nodes.iter().map(|(z, w)| w * z.powi(power)).sum::<f64>();
            for (power, expected) in [(0, 1.0), (2, 1.0), (4, 3.0)] {
                assert!((moment(power) - expected).abs() < 1e-12, "{power} {}", moment(power));
            }
        }
        let sixth = FIVE.iter().map(|(z, w)| w * z.powi(6)).sum::<f64>();
        assert!((sixth - 15.0).abs() < 1e-11, "{sixth}");
    }
}
