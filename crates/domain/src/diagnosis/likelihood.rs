//! How likely a reading with a number is, given what the circuit predicts for it.
//!
//! On the measurement's scale (natural logarithm or linear) a reading is
//! `(1 − ε)·N(y; predicted, u² + model²) + ε·[w·N(y; predicted, near²) + (1 − w)·flat]`: a share ε of the
//! readings is misread or mistyped. Of what is timed, poured or judged by hand a share w of the slips lies
//! near the truth; a meter that is misread, by its range or its decimal point, shows anything that it can
//! show. ε, w and the range are the measurement's, as data. A part's own value is predicted as a stretch,
//! over which the normal density is averaged: `[Φ((high − y)/σ) − Φ((low − y)/σ)]/(high − low)`. Readings
//! that only bound a value take the probability beyond the bound, and a value at an end of the range is a
//! bound. Source: normal errors with contamination, common statistical practice for robust regression; the
//! shares are reasoned guesses.

mod repeats;

pub(super) use repeats::{MADE_AGAIN, Repeated};

use statrs::function::erf::erfc;

use crate::equipment::MeasurementModel;
use crate::quantity::Scale;

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

/// Slips of a measurement, on its scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slips {
    /// ε.
    pub share: f64,
    /// w, and the standard deviation of those slips.
    pub near: f64,
    pub near_deviation: f64,
}

impl Slips {
    pub fn of(measurement: &MeasurementModel) -> Self {
        let misread = measurement.misread;
        Self { share: misread.share, near: misread.near, near_deviation: measurement.near_slip() }
    }
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
    pub slips: Slips,
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
    pub fn new(seen: Seen, sigma: f64, low: f64, high: f64, slips: Slips) -> Self {
        let seen = match seen {
            Seen::Exactly(y) if y <= low => Seen::AtMost(low),
            Seen::Exactly(y) if y >= high => Seen::AtLeast(high),
            Seen::AtLeast(y) => Seen::AtLeast(y.clamp(low, high)),
            Seen::AtMost(y) => Seen::AtMost(y.clamp(low, high)),
            other => other,
        };
        Self { seen, sigma, low, high, slips }
    }

    #[cfg(test)]
    pub fn likelihood(&self, predicted: f64) -> Likelihood {
        self.over(predicted, predicted)
    }

    /// Averaged over a stretch of predictions, on the scale too; minus infinity is nothing at all, plus
    /// infinity is never.
    pub fn over(&self, low: f64, high: f64) -> Likelihood {
        let share = self.slips.share;
        Likelihood {
            as_predicted: (1.0 - share) * self.strays(low, high, self.sigma),
            misread: share * self.slip(low, high),
        }
    }

    /// Density or probability of what was seen by a slip.
    fn slip(&self, low: f64, high: f64) -> f64 {
        let Slips { near, near_deviation, .. } = self.slips;
        // What is never or nothing is not nearly read.
        let near = if low.is_finite() || high.is_finite() { near } else { 0.0 };
        let nearly = if near > 0.0 { near * self.strays(low, high, near_deviation) } else { 0.0 };
        nearly + (1.0 - near) * self.flat()
    }

    /// Density or probability of what was seen if readings stray normally about the stretch.
    fn strays(&self, low: f64, high: f64, sigma: f64) -> f64 {
        // Where one end alone is infinite it stands for the end of what can be read.
        let (low, high) = match (low.is_finite(), high.is_finite()) {
            (false, true) => (self.low.min(high), high),
            (true, false) => (low, self.high.max(low)),
            _ => (low, high),
        };
        let below = |y: f64| mean_below((y - high) / sigma, (y - low) / sigma);
        let strays = match self.seen {
            Seen::Exactly(_) if !low.is_finite() => 0.0,
            Seen::Exactly(y) => {
                let (from, to) = ((low - y) / sigma, (high - y) / sigma);
                if to - from < LEAST_STRETCH {
                    normal_density(f64::midpoint(from, to)) / sigma
                } else {
                    // In the upper tail both are close to 1: their mirror images are not.
                    let mass = if from > 0.0 {
                        normal_below(-from) - normal_below(-to)
                    } else {
                        normal_below(to) - normal_below(from)
                    };
                    mass / (high - low)
                }
            }
            Seen::AtLeast(y) => 1.0 - below(y),
            Seen::AtMost(y) => below(y),
            Seen::Between(from, to) => below(to) - below(from),
        };
        strays.max(0.0)
    }

    /// If anything within the range may be predicted.
    pub fn flat(&self) -> f64 {
        let between = |low: f64, high: f64| {
            ((high.min(self.high) - low.max(self.low)) / (self.high - self.low)).max(LEAST_FLAT)
        };
        match self.seen {
            Seen::Exactly(_) => 1.0 / (self.high - self.low),
            Seen::AtLeast(y) => between(y, f64::INFINITY),
            Seen::AtMost(y) => between(f64::NEG_INFINITY, y),
            Seen::Between(low, high) => between(low, high),
        }
    }
}

/// Stretches shorter than this, in standard deviations, are points.
const LEAST_STRETCH: f64 = 1e-6;

/// Mean of Φ over a stretch; `∫Φ(z) dz = z·Φ(z) + φ(z)`.
fn mean_below(from: f64, to: f64) -> f64 {
    if from.is_infinite() || to.is_infinite() {
        return f64::from(u8::from(from > 0.0));
    }
    if to - from < LEAST_STRETCH {
        return normal_below(f64::midpoint(from, to));
    }
    let integral = |z: f64| z * normal_below(z) + normal_density(z);
    ((integral(to) - integral(from)) / (to - from)).clamp(0.0, 1.0)
}

/// φ(z).
fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
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

    const METER: Slips = Slips { share: 0.03, near: 0.0, near_deviation: 0.4 };
    const BY_HAND: Slips = Slips { share: 0.02, near: 0.7, near_deviation: 0.4 };

    fn reading(seen: Seen) -> Comparable {
        Comparable::new(seen, 0.05, 1.0, 6.0, METER)
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
    fn a_slip_of_the_hand_lies_near_the_truth() {
        let by_hand = |y: f64| Comparable::new(Seen::Exactly(y), 0.05, 1.0, 6.0, BY_HAND).likelihood(3.0);
        // One near deviation off: 0.7 of the slips about the truth, 0.3 anywhere.
        let near = 0.02 * (0.7 * 0.24197072451914337 / 0.4 + 0.3 / 5.0);
        assert!((by_hand(3.4).misread - near).abs() < 1e-12);
        assert!((by_hand(5.9).misread - 0.02 * 0.3 / 5.0).abs() < 1e-9);
        // What never ends cannot be nearly timed.
        let never = Comparable::new(Seen::Exactly(3.0), 0.05, 1.0, 6.0, BY_HAND).likelihood(f64::INFINITY);
        assert!((never.total() - 0.02 / 5.0).abs() < 1e-12);
    }

    #[test]
    fn a_stretch_is_the_mean_of_its_predictions() {
        let seen = [
            Seen::Exactly(3.05),
            Seen::Exactly(2.2),
            Seen::AtLeast(3.1),
            Seen::AtMost(3.0),
            Seen::Between(2.9, 3.3),
        ];
        for seen in seen {
            for slips in [METER, BY_HAND] {
                let reading = Comparable::new(seen, 0.05, 1.0, 6.0, slips);
                // Simpson's rule.
                let (low, high, steps) = (2.7, 3.5, 400);
                let at =
                    |step: usize| reading.likelihood(low + (high - low) * step as f64 / steps as f64).total();
                let weight = |step: usize| {
                    if step == 0 || step == steps {
                        1.0
                    } else if step % 2 == 1 {
                        4.0
                    } else {
                        2.0
                    }
                };
                let mean =
                    (0..=steps).map(|step| weight(step) * at(step)).sum::<f64>() / (3.0 * steps as f64);
                let over = reading.over(low, high).total();
                assert!((over - mean).abs() < 1e-7 * mean.max(1e-3), "{seen:?} {over} {mean}");
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
