//! How bad a fault can be, and what it then does.
//!
//! A severity is a range with a weight: from its mild to its grave end, a machine may stand anywhere in
//! it, evenly by factors. What a fault changes runs through the range together, unless an effect has
//! severities of its own; effects of the same severities of their own run together.

use serde::{Deserialize, Serialize};

use super::{Fault, ObservationKey, Parameter};

/// What a fault does to a parameter, one value or range for each of its severities.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Effect {
    pub on: Target,
    pub change: Change,
    /// Weights of severities of its own, for what need not go together with the rest of the fault: water
    /// left in the sump says nothing of how slow the pump is. Effects with the same weights go together:
    /// insulation as it is found, and as it reads when it has been dried.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub severities: Vec<f64>,
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Target {
    Parameter(Parameter),
    /// A measurement with a healthy value of its own ([`Reads::Own`](super::Reads::Own)).
    Measurement(ObservationKey),
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// Factors on the sound value.
    Scale(Vec<Extent>),
    /// What comes on top of the sound value.
    Add(Vec<Extent>),
}

impl Change {
    pub fn extents(&self) -> &[Extent] {
        match self {
            Self::Scale(extents) | Self::Add(extents) => extents,
        }
    }
}

/// A value, or all values from the mild to the grave end of a severity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Extent {
    Point(f64),
    Range(f64, f64),
}

impl Extent {
    /// The mild end.
    pub const fn from(self) -> f64 {
        match self {
            Self::Point(value) | Self::Range(value, _) => value,
        }
    }

    /// The grave end.
    pub const fn to(self) -> f64 {
        match self {
            Self::Point(value) | Self::Range(_, value) => value,
        }
    }

    /// The value at a share of the way from the mild end to the grave one: by factors, or by steps where
    /// an end is 0 or the ends lie on both sides of it.
    pub fn at(self, share: f64) -> f64 {
        let (from, to) = (self.from(), self.to());
        if from * to > 0.0 { from * (to / from).powf(share) } else { from + (to - from) * share }
    }

    /// How far apart its ends are, as a logarithm where it runs by factors.
    pub fn width(self) -> f64 {
        let (from, to) = (self.from(), self.to());
        if from * to > 0.0 { (to / from).ln().abs() } else { (to - from).abs() }
    }
}

/// Effects that run through their severities together.
#[derive(Debug, Clone, PartialEq)]
pub struct Dimension<'a> {
    /// Weights of the severities.
    pub weights: &'a [f64],
    pub effects: Vec<&'a Effect>,
}

impl Fault {
    /// Its effects by what runs together: those of the fault's own severities first, if it has any, and
    /// then those with severities of their own, by these.
    pub fn dimensions(&self) -> Vec<Dimension<'_>> {
        let (together, apart): (Vec<&Effect>, Vec<&Effect>) =
            self.effects.iter().partition(|effect| effect.severities.is_empty());
        let mut dimensions = Vec::new();
        if !together.is_empty() {
            dimensions.push(Dimension { weights: &self.severities, effects: together });
        }
        let own = dimensions.len();
        for effect in apart {
            let alike = |dimension: &&mut Dimension| dimension.weights == effect.severities.as_slice();
            match dimensions[own..].iter_mut().find(alike) {
                Some(dimension) => dimension.effects.push(effect),
                None => dimensions.push(Dimension { weights: &effect.severities, effects: vec![effect] }),
            }
        }
        dimensions
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_runs_by_factors_and_by_steps_across_nothing() {
        let factors = Extent::Range(0.5, 0.005);
        assert!((factors.at(0.5) - 0.05).abs() < 1e-15 && (factors.width() - 100_f64.ln()).abs() < 1e-12);
        let steps = Extent::Range(0.0, 0.4);
        assert!((steps.at(0.25) - 0.1).abs() < 1e-15 && (steps.width() - 0.4).abs() < 1e-15);
        let below = Extent::Range(-4.0, -16.0);
        assert!((below.at(0.5) + 8.0).abs() < 1e-12);
        assert!((Extent::Point(3.0).at(0.7) - 3.0).abs() < 1e-15);
    }

    #[test]
    fn effects_of_the_same_severities_run_together() {
        let vermin = crate::equipment::demo_combi_faults().fault("vermin_damage").unwrap();
        let dimensions = vermin.dimensions();
        let counts: Vec<usize> = dimensions.iter().map(|dimension| dimension.effects.len()).collect();
        assert_eq!(counts, [3, 2], "the outputs; the insulation, found and dried");
        assert_eq!(dimensions[1].weights, [0.4, 0.3, 0.3]);
    }

    #[test]
    fn a_value_and_a_range_are_told_apart_in_json() {
        let extents: Vec<Extent> = serde_json::from_str("[1.0, [0.5, 0.1]]").unwrap();
        assert_eq!(extents, [Extent::Point(1.0), Extent::Range(0.5, 0.1)]);
        assert_eq!(serde_json::to_string(&extents).unwrap(), "[1.0,[0.5,0.1]]");
    }
}
