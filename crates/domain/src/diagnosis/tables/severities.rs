//! The ranges of severities cut into nodes: even in the logarithm, close enough together for the sharpest
//! reading, and fewer where several faults stand together, because there are so many more of their
//! combinations.

use crate::equipment::{Dimension, Effect, Extent, Parameter, Target};

/// Step between nodes, as a logarithm of what the fault changes: 2.5 of the errors of the sharpest timed
/// readings.
const STEP: f64 = 0.25;
/// Nodes of a fault that stands alone or with one, two or three others.
const MOST: [usize; 4] = [18, 18, 6, 4];

/// A node: what each effect of the dimension then does, and how much of all severities it stands for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cut {
    /// By effect.
    pub values: Vec<Stretch>,
    pub weight: f64,
}

/// The stretch of a range for which a node stands, and its middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub from: f64,
    pub middle: f64,
    pub to: f64,
}

/// How ranges are cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cutting {
    /// As finely as the readings and the number of faults ask for.
    AsNeeded,
    /// Each range into so many even parts.
    Even(usize),
}

/// The nodes of a dimension of one of so many faults that stand together.
pub(super) fn cut(dimension: &Dimension, together: usize, cutting: Cutting) -> Vec<Cut> {
    let runs = runs(dimension, cutting);
    let wanted: Vec<usize> = runs.iter().map(|run| run.wanted(cutting)).collect();
    let all: usize = wanted.iter().sum();
    let most = MOST[together.clamp(1, MOST.len()) - 1];
    let total: f64 = dimension.weights.iter().sum();
    let mut cuts = Vec::new();
    for (run, wanted) in runs.iter().zip(wanted) {
        let parts = match cutting {
            Cutting::AsNeeded if all > most => {
                ((wanted * most) as f64 / all as f64).round().max(1.0) as usize
            }
            _ => wanted,
        };
        for part in 0..parts {
            let at = |edge: usize| run.width() * edge as f64 / parts as f64;
            cuts.push(run.between(dimension, at(part), at(part + 1), total));
        }
    }
    cuts
}

/// Severities that follow on each other without a jump.
struct Run {
    /// Indices of severities, with where each ends.
    pieces: Vec<(usize, f64)>,
    /// Whether it changes nothing but values that parts show by themselves.
    own_only: bool,
}

fn runs(dimension: &Dimension, cutting: Cutting) -> Vec<Run> {
    let extents = |level: usize| dimension.effects.iter().map(move |effect| effect.change.extents()[level]);
    let is_range = |level: usize| extents(level).any(|extent| matches!(extent, Extent::Range(..)));
    let mut runs: Vec<Run> = Vec::new();
    for level in 0..dimension.weights.len() {
        let own_only = dimension.effects.iter().all(|effect| {
            let is_own = matches!(effect.on, Target::Measurement(_));
            is_own || matches!(effect.change.extents()[level], Extent::Point(_))
        });
        let meets = cutting == Cutting::AsNeeded
            && level > 0
            && is_range(level)
            && is_range(level - 1)
            && extents(level - 1).zip(extents(level)).all(|(before, after)| close(before.to(), after.from()));
        let width = dimension
            .effects
            .iter()
            .filter(|effect| own_only || matches!(effect.on, Target::Parameter(_)))
            .map(|effect| width(effect.change.extents()[level]) / coarseness(effect))
            .fold(0.0, f64::max);
        match runs.last_mut() {
            // What a part shows by itself is weighed over whole stretches, each of an even weight.
            Some(run) if meets && !own_only && !run.own_only => {
                let end = run.width() + width;
                run.pieces.push((level, end));
            }
            _ => runs.push(Run { pieces: vec![(level, width)], own_only }),
        }
    }
    runs
}

/// A range that does not run by factors counts for one of a factor of e.
fn width(extent: Extent) -> f64 {
    match extent {
        Extent::Point(_) => 0.0,
        Extent::Range(from, to) if from * to > 0.0 => extent.width(),
        Extent::Range(..) => 1.0,
    }
}

/// How much more coarsely than a timed reading what the fault changes is read: when a pump fades is timed by eye, a
/// meter tells two volts apart.
const fn coarseness(effect: &Effect) -> f64 {
    match effect.on {
        Target::Parameter(Parameter::FadesAfter) => 3.0,
        Target::Parameter(Parameter::SiteVoltage) => 0.15,
        _ => 1.0,
    }
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs())
}

impl Run {
    fn width(&self) -> f64 {
        self.pieces.last().map_or(0.0, |piece| piece.1)
    }

    fn wanted(&self, cutting: Cutting) -> usize {
        match cutting {
            _ if self.width() == 0.0 || self.own_only => 1,
            Cutting::AsNeeded => (self.width() / STEP).ceil() as usize,
            Cutting::Even(parts) => parts * self.pieces.len(),
        }
    }

    /// The node for the part of the run between two places.
    fn between(&self, dimension: &Dimension, low: f64, high: f64, total: f64) -> Cut {
        let (mut weight, mut moment, mut start) = (0.0, 0.0, 0.0);
        for (level, end) in &self.pieces {
            let (from, to) = (low.max(start), high.min(*end));
            let width = end - start;
            let share = if width > 0.0 { ((to - from) / width).max(0.0) } else { 1.0 };
            weight += dimension.weights[*level] * share;
            moment += dimension.weights[*level] * share * f64::midpoint(from, to);
            start = *end;
        }
        let middle = if weight > 0.0 { moment / weight } else { f64::midpoint(low, high) };
        let values = (0..dimension.effects.len())
            .map(|effect| {
                let at = |place: f64| self.at(dimension, effect, place);
                Stretch { from: at(low), middle: at(middle), to: at(high) }
            })
            .collect();
        Cut { values, weight: weight / total }
    }

    /// What an effect does at a place of the run.
    fn at(&self, dimension: &Dimension, effect: usize, place: f64) -> f64 {
        let mut start = 0.0;
        for (index, (level, end)) in self.pieces.iter().enumerate() {
            if place <= *end || index + 1 == self.pieces.len() {
                let width = end - start;
                let share = if width > 0.0 { ((place - start) / width).clamp(0.0, 1.0) } else { 0.5 };
                return dimension.effects[effect].change.extents()[*level].at(share);
            }
            start = *end;
        }
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equipment::{Change, built_in_fault_catalogues};

    /// Every dimension of every fault that there is.
    fn each(with: impl Fn(&str, &Dimension)) {
        for fault in built_in_fault_catalogues().iter().flat_map(|catalogue| &catalogue.faults) {
            for dimension in fault.dimensions() {
                with(fault.key.as_str(), &dimension);
            }
        }
    }

    #[test]
    fn nodes_weigh_one_together_and_are_few() {
        each(|fault, dimension| {
            for together in 1..=4 {
                let cuts = cut(dimension, together, Cutting::AsNeeded);
                let weight: f64 = cuts.iter().map(|cut| cut.weight).sum();
                assert!((weight - 1.0).abs() < 1e-9, "{fault} {together}: {weight}");
                // A severity that stands apart keeps a node, however many there are.
                let most = MOST[together - 1] + dimension.weights.len();
                assert!(cuts.len() <= most, "{fault} {together}: {}", cuts.len());
            }
        });
    }

    /// The mean of what a fault does, as a logarithm, is that of its ranges, however they are cut; the mean of
    /// its square falls short by no more than the width of the nodes allows.
    #[test]
    fn cut_ranges_have_the_moments_of_the_whole() {
        each(|fault, dimension| {
            for (index, effect) in dimension.effects.iter().enumerate() {
                let (Target::Parameter(_), Change::Scale(extents)) = (&effect.on, &effect.change) else {
                    continue;
                };
                if extents.iter().any(|extent| extent.from() <= 0.0 || extent.to() <= 0.0) {
                    continue;
                }
                let total: f64 = dimension.weights.iter().sum();
                let steps = 2000;
                let whole = |power: i32| -> f64 {
                    let of = |(extent, weight): (&Extent, &f64)| {
                        let at = |step: i32| {
                            extent.at((f64::from(step) + 0.5) / f64::from(steps)).ln().powi(power)
                        };
                        weight / total * (0..steps).map(at).sum::<f64>() / f64::from(steps)
                    };
                    extents.iter().zip(dimension.weights).map(of).sum()
                };
                for together in 1..=2 {
                    let cuts = cut(dimension, together, Cutting::AsNeeded);
                    let nodes = |power: i32| -> f64 {
                        cuts.iter().map(|cut| cut.weight * cut.values[index].middle.ln().powi(power)).sum()
                    };
                    let widest = cuts
                        .iter()
                        .map(|cut| (cut.values[index].to / cut.values[index].from).ln().abs())
                        .fold(0.0, f64::max);
                    assert!((nodes(1) - whole(1)).abs() < 1e-6 + 0.1 * widest, "{fault}");
                    let short = whole(2) - nodes(2);
                    let allowed = widest * widest / 4.0 + 1e-6;
                    assert!(short.abs() <= allowed, "{fault}: {short} of {allowed}");
                }
            }
        });
    }
}
