//! How likely a reading with a number is, given what the circuit predicts for it.
//!
//! On the measurement's scale (natural logarithm or linear) a reading is `(1 − ε)·N(y; predicted,
//! u² + model²) + ε·flat`, ε = 0.03: the second term is a misread or mistyped value, anywhere in the
//! measurement's range. Readings that only bound a value take the probability beyond the bound.
//! Source: normal errors with a uniform contamination, common statistical practice for robust
//! regression; ε is a reasoned guess.

use statrs::function::erf::erfc;

use crate::quantity::Scale;

/// ε: share of readings that say nothing.
pub(super) const MISREAD: f64 = 0.03;
/// A misread bound lies beyond any value with at least this probability, so that no reading, however
/// odd, rules everything out.
const LEAST_FLAT: f64 = 0.01;

/// What was seen, on the measurement's scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Seen {
    Exactly(f64),
    AtLeast(f64),
    AtMost(f64),
    Between(f64, f64),
}

/// A reading that is ready to be compared with predictions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Comparable {
    pub seen: Seen,
    /// Standard deviation of reading and model together.
    pub sigma: f64,
    /// Range of the measurement, on its scale.
    pub low: f64,
    pub high: f64,
}

/// The two ways in which a reading can have come about, each with its density or probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Likelihood {
    pub as_predicted: f64,
    pub misread: f64,
}

impl Likelihood {
    pub fn total(self) -> f64 {
        self.as_predicted + self.misread
    }
}

impl Comparable {
    /// Values outside the range become bounds at its ends.
    pub fn new(seen: Seen, sigma: f64, low: f64, high: f64) -> Self {
        let seen = match seen {
            Seen::Exactly(y) if y <= low => Seen::AtMost(low),
            Seen::Exactly(y) if y >= high => Seen::AtLeast(high),
            Seen::AtLeast(y) => Seen::AtLeast(y.clamp(low, high)),
            Seen::AtMost(y) => Seen::AtMost(y.clamp(low, high)),
            other => other,
        };
        Self { seen, sigma, low, high }
    }

    /// `predicted` is on the scale too; minus infinity is nothing at all, plus infinity is never.
    pub fn likelihood(&self, predicted: f64) -> Likelihood {
        let flat = |low: f64, high: f64| {
            ((high.min(self.high) - low.max(self.low)) / (self.high - self.low)).max(LEAST_FLAT)
        };
        let below = |y: f64| {
            if predicted.is_finite() {
                normal_below((y - predicted) / self.sigma)
            } else {
                f64::from(u8::from(predicted < y))
            }
        };
        let (as_predicted, misread) = match self.seen {
            Seen::Exactly(y) => {
                let z = (y - predicted) / self.sigma;
                let density = if predicted.is_finite() {
                    (-0.5 * z * z).exp() / (self.sigma * (2.0 * std::f64::consts::PI).sqrt())
                } else {
                    0.0
                };
                (density, 1.0 / (self.high - self.low))
            }
            Seen::AtLeast(y) => (1.0 - below(y), flat(y, f64::INFINITY)),
            Seen::AtMost(y) => (below(y), flat(f64::NEG_INFINITY, y)),
            Seen::Between(low, high) => (below(high) - below(low), flat(low, high)),
        };
        Likelihood { as_predicted: (1.0 - MISREAD) * as_predicted.max(0.0), misread: MISREAD * misread }
    }

    /// The whole likelihood under each of many predictions, and the part of a misread, which is the same
    /// for all.
    pub fn totals(&self, predicted: &[f64]) -> (Vec<f64>, f64) {
        let misread = self.likelihood(f64::INFINITY).misread;
        let totals = match self.seen {
            Seen::Exactly(y) => {
                let factor = (1.0 - MISREAD) / (self.sigma * (2.0 * std::f64::consts::PI).sqrt());
                let inverse = 1.0 / self.sigma;
                // Without a finite prediction the exponential is 0.
                let total = |predicted: &f64| {
                    let z = (y - predicted) * inverse;
                    factor * (-0.5 * z * z).exp() + misread
                };
                predicted.iter().map(total).collect()
            }
            _ => predicted.iter().map(|predicted| self.likelihood(*predicted).total()).collect(),
        };
        (totals, misread)
    }

    /// The likelihood under a fault that nobody described: anything within the range.
    pub fn under_the_unknown(&self) -> f64 {
        self.likelihood(f64::INFINITY).misread / MISREAD
    }
}

/// Φ(z).
pub(super) fn normal_below(z: f64) -> f64 {
    0.5 * erfc(-z / std::f64::consts::SQRT_2)
}

/// A value on the scale; a logarithm of 0 is minus infinity.
pub(super) fn on_scale(scale: Scale, value: f64) -> f64 {
    match scale {
        Scale::Linear => value,
        Scale::Logarithmic => value.max(0.0).ln(),
    }
}

/// A standard uncertainty in the unit of the value, on the scale.
pub(super) fn uncertainty_on_scale(scale: Scale, value: f64, uncertainty: f64) -> f64 {
    match scale {
        Scale::Linear => uncertainty,
        // Beyond the whole value a relative uncertainty says no more than that nothing is known.
        Scale::Logarithmic => {
            if value > 0.0 {
                (uncertainty / value).min(2.0)
            } else {
                2.0
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(seen: Seen) -> Comparable {
        Comparable::new(seen, 0.05, 1.0, 6.0)
    }

    #[test]
    fn an_exact_reading_is_normal_with_a_flat_tail() {
        // Density of the normal distribution at z = 1: 0.24197072451914337 (tables).
        let near = reading(Seen::Exactly(3.05)).likelihood(3.0);
        assert!((near.as_predicted - 0.97 * 0.24197072451914337 / 0.05).abs() < 1e-12);
        assert!((near.misread - 0.03 / 5.0).abs() < 1e-15);
        let far = reading(Seen::Exactly(5.0)).likelihood(2.0);
        assert!(far.as_predicted < 1e-300 && far.misread > 0.0);
    }

    #[test]
    fn many_predictions_at_once_are_as_one_by_one() {
        for seen in [Seen::Exactly(3.05), Seen::AtLeast(3.0), Seen::Between(2.0, 4.0)] {
            let predicted = [f64::NEG_INFINITY, 0.0, 2.9, 3.0, 3.1, 9.0, f64::INFINITY];
            let (totals, misread) = reading(seen).totals(&predicted);
            for (predicted, total) in predicted.iter().zip(totals) {
                let one = reading(seen).likelihood(*predicted);
                assert!((total / one.total() - 1.0).abs() < 1e-13, "{seen:?} {predicted}");
                assert!((misread - one.misread).abs() < 1e-16);
            }
        }
    }

    #[test]
    fn bounds_take_the_probability_beyond_them() {
        // Φ(1.959963984540054) = 0.975 (tables).
        let bound = reading(Seen::AtLeast(3.0)).likelihood(3.0 + 0.05 * 1.959963984540054);
        assert!((bound.as_predicted - 0.97 * 0.975).abs() < 1e-9);
        assert!((bound.misread - 0.03 * 0.6).abs() < 1e-12);
        let never = reading(Seen::AtLeast(3.0)).likelihood(f64::INFINITY).as_predicted;
        let nothing = reading(Seen::AtMost(3.0)).likelihood(f64::NEG_INFINITY).as_predicted;
        assert!((never - 0.97).abs() < 1e-15 && (nothing - 0.97).abs() < 1e-15);
        assert!(reading(Seen::Exactly(3.0)).likelihood(f64::INFINITY).as_predicted < 1e-300);
        let between = reading(Seen::Between(2.0, 4.0)).likelihood(3.0);
        assert!((between.as_predicted - 0.97).abs() < 1e-12 && (between.misread - 0.03 * 0.4).abs() < 1e-12);
    }

    #[test]
    fn a_reading_outside_the_range_is_a_bound_and_rules_nothing_out() {
        for seen in [Seen::Exactly(f64::NEG_INFINITY), Seen::Exactly(1e9), Seen::AtLeast(1e9)] {
            for predicted in [f64::NEG_INFINITY, 0.0, 3.0, 9.0, f64::INFINITY] {
                let total = reading(seen).likelihood(predicted).total();
                assert!(total.is_finite() && total >= 0.03 * LEAST_FLAT, "{seen:?} {predicted} {total}");
            }
        }
    }
}
