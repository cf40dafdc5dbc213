//! How probable a reading of tier A is, straight from how it is drawn.

use domain::equipment::{MeasurementModel, Misread};
use domain::quantity::Scale;
use simulator::cases::catalogue::Seen;

/// A reading made ready to be compared with many predictions.
pub(super) struct Reading {
    kind: Kind,
    spread: f64,
    /// Probability or density if anything may be read.
    pub flat: f64,
    misread: Misread,
    near_slip: f64,
    logarithmic: bool,
}

enum Kind {
    At(f64),
    /// Between, on the scale; the ends of the display take all beyond them.
    Between(f64, f64),
}

impl Reading {
    pub fn new(of: &MeasurementModel, seen: &Seen) -> Option<Self> {
        let logarithmic = of.scale == Scale::Logarithmic;
        let on_scale = |value: f64| if logarithmic { value.max(0.0).ln() } else { value };
        let (low, high) = (on_scale(of.range.0), on_scale(of.range.1));
        let slack = 1e-9 * (high - low);
        let between = |from: f64, to: f64| {
            let flat = ((to.min(high) - from.max(low)) / (high - low)).max(0.0);
            let from = if from <= low + slack { f64::NEG_INFINITY } else { from };
            let to = if to >= high - slack { f64::INFINITY } else { to };
            (Kind::Between(from, to), flat)
        };
        let (kind, flat) = match seen {
            Seen::Value(value) => {
                let value = on_scale(*value);
                if value <= low + slack {
                    (Kind::Between(f64::NEG_INFINITY, low), 0.0)
                } else if value >= high - slack {
                    (Kind::Between(high, f64::INFINITY), 0.0)
                } else {
                    (Kind::At(value), 1.0 / (high - low))
                }
            }
            Seen::AtLeast(value) => between(on_scale(*value), f64::INFINITY),
            Seen::Choice(choice) => {
                let (_, (from, to)) = of.judged.iter().find(|(key, _)| key.as_str() == choice)?;
                between(on_scale(*from), on_scale(*to))
            }
        };
        Some(Self {
            kind,
            spread: of.usual_uncertainty.hypot(of.model_error),
            flat,
            misread: of.misread,
            near_slip: of.near_slip(),
            logarithmic,
        })
    }

    /// Under this predicted value, in the canonical unit.
    pub fn given(&self, predicted: f64) -> f64 {
        let predicted = if self.logarithmic { predicted.max(0.0).ln() } else { predicted };
        let Misread { share, near } = self.misread;
        let near = if predicted.is_finite() { near } else { 0.0 };
        let slip = near * self.strays(predicted, self.near_slip) + (1.0 - near) * self.flat;
        (1.0 - share) * self.strays(predicted, self.spread) + share * slip
    }

    fn strays(&self, predicted: f64, spread: f64) -> f64 {
        let below = |edge: f64| {
            if edge.is_infinite() || predicted.is_infinite() {
                return if edge > predicted || edge == f64::INFINITY { 1.0 } else { 0.0 };
            }
            normal_below((edge - predicted) / spread)
        };
        match self.kind {
            Kind::At(_) if !predicted.is_finite() => 0.0,
            Kind::At(value) => {
                let z = (value - predicted) / spread;
                (-0.5 * z * z).exp() / (spread * (2.0 * std::f64::consts::PI).sqrt())
            }
            Kind::Between(from, to) => below(to) - below(from),
        }
    }
}

/// Φ by the error function of the C library.
pub(super) fn normal_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}
