//! The one table of ranges: what a value of each kind may be, and what it usually is in this trade.

use super::{Hardness, HardnessScale, QuantityKind};

/// The ranges of one kind, in its canonical unit.
///
/// Beyond `possible` a number is no value of the kind and is refused wherever it is made. Beyond `usual` it is kept, and
/// held for a slip of the finger or a wrong unit until somebody says otherwise ([`QuantityKind::perhaps_meant`]). Limits
/// of good and bad are neither: they belong to the models.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranges {
    pub possible: (f64, f64),
    pub usual: (f64, f64),
}

/// A value that a person may have meant instead of what was sent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meant {
    pub value: f64,
    /// UCUM code; `1` where `hardness_scale` says the degree.
    pub unit: &'static str,
    pub hardness_scale: Option<HardnessScale>,
}

const fn ranges(possible: (f64, f64), usual: (f64, f64)) -> Ranges {
    Ranges { possible, usual }
}

impl QuantityKind {
    /// The table. What nature forbids has its reason beside it; the other bounds are common practice, no source: wide
    /// enough for every instrument, building and machine of the trade, and for what follows from them by computation.
    #[expect(clippy::match_same_arms, reason = "a table: kinds with equal bounds have them by chance")]
    pub const fn ranges(self) -> Ranges {
        match self {
            // No place on Earth has more than 1.1 bar of air, so no gauge reads less than -1.1 bar.
            Self::StaticPressure | Self::DynamicPressure => ranges((-1.1, 1e4), (0.0, 12.0)),
            Self::AbsolutePressure => ranges((0.0, 1e4), (0.5, 13.0)),
            Self::PressureDifference => ranges((0.0, 1e4), (0.0, 12.0)),
            // Absolute zero; above it, far more than an oven reaches.
            Self::Temperature => ranges((-273.15, 2000.0), (-30.0, 350.0)),
            Self::TemperatureInterval => ranges((-3000.0, 3000.0), (-350.0, 350.0)),
            // A hundred years; a day.
            Self::Duration => ranges((0.0, 3.2e9), (0.0, 86_400.0)),
            Self::Volume => ranges((0.0, 1e6), (0.0, 500.0)),
            Self::VolumeFlow => ranges((0.0, 1e9), (0.0, 2000.0)),
            Self::FlowCoefficient => ranges((0.0, 1e6), (0.0, 100.0)),
            Self::Voltage => ranges((0.0, 1e5), (0.0, 700.0)),
            Self::Current => ranges((0.0, 1e5), (0.0, 200.0)),
            Self::Power => ranges((0.0, 1e8), (0.0, 1e5)),
            Self::Resistance => ranges((0.0, 1e12), (0.0, 1e8)),
            Self::InsulationResistance => ranges((0.0, 1e9), (0.0, 1e6)),
            Self::Capacitance => ranges((0.0, 1e9), (0.0, 1000.0)),
            Self::Frequency => ranges((0.0, 1e9), (0.0, 1e5)),
            Self::Conductivity => ranges((0.0, 1e7), (0.0, 1e5)),
            // Nothing dissolved is denser than lead.
            Self::MassConcentration => ranges((0.0, 1.2e7), (0.0, 2e5)),
            Self::Hardness => ranges((0.0, 1e4), (0.0, 12.0)),
            Self::Alkalinity => ranges((0.0, 1e6), (0.0, 2000.0)),
            // The scale's ends.
            Self::Ph => ranges((0.0, 14.0), (0.0, 14.0)),
            Self::Ratio => ranges((0.0, 1e6), (0.0, 1000.0)),
            Self::Length => ranges((0.0, 1e5), (0.0, 100.0)),
            // The reach of ISO 2533, table 1, as far as kitchens go.
            Self::Altitude => ranges((-1000.0, 9000.0), (-430.0, 5500.0)),
            Self::Mass => ranges((0.0, 1e5), (0.0, 200.0)),
            Self::RotationalSpeed => ranges((0.0, 1e6), (0.0, 30_000.0)),
            Self::Count => ranges((0.0, 1e9), (0.0, 1e6)),
        }
    }

    /// Whether a value, in the canonical unit, is one that is met in this trade.
    pub fn is_usual(self, value: f64) -> bool {
        let (least, most) = self.ranges().usual;
        (least..=most).contains(&value)
    }

    /// What may have been meant by a number in a unit that gives a value beyond what is usual: the same number in degrees of
    /// hardness or in another unit of the kind whose value is `usual` and not next to nothing, and the number with its
    /// decimal point moved. Of those that give the same value the first alone.
    ///
    /// ```
    /// use domain::quantity::QuantityKind;
    /// let kind = QuantityKind::DynamicPressure;
    /// let meant = kind.perhaps_meant(300.0, "bar", kind.ranges().usual);
    /// assert_eq!((meant[0].value, meant[0].unit), (300.0, "kPa"));
    /// let kind = QuantityKind::Temperature;
    /// let meant = kind.perhaps_meant(131.0, "Cel", (0.0, 100.0));
    /// assert_eq!((meant[0].value, meant[0].unit), (131.0, "[degF]"));
    /// ```
    pub fn perhaps_meant(self, value: f64, unit: &str, usual: (f64, f64)) -> Vec<Meant> {
        // A slip of unit gives a value of ordinary size; a thousandth of what is usual is as odd as too much.
        let (least, most) = (usual.0.max(usual.1 * 1e-3), usual.1);
        let mut meant: Vec<(f64, Meant)> = Vec::new();
        let mut add = |canonical: Option<f64>, candidate: Meant| {
            let Some(canonical) = canonical.filter(|canonical| (least..=most).contains(canonical)) else {
                return;
            };
            if !meant.iter().any(|(known, _)| (known - canonical).abs() <= 1e-9 * canonical.abs()) {
                meant.push((canonical, candidate));
            }
        };
        if self == Self::Hardness {
            for scale in HardnessScale::ALL {
                let canonical = Hardness::from_degrees(value, scale).ok().map(f64::from);
                add(canonical, Meant { value, unit: "1", hardness_scale: Some(scale) });
            }
        }
        for other in self.accepted_units().filter(|other| *other != unit) {
            add(self.to_canonical(value, other).ok(), Meant { value, unit: other, hardness_scale: None });
        }
        if let Some(unit) = self.accepted_units().find(|known| *known == unit) {
            for places in [10.0, 100.0, 1000.0] {
                let moved = value / places;
                add(self.to_canonical(moved, unit).ok(), Meant { value: moved, unit, hardness_scale: None });
            }
        }
        meant.into_iter().map(|(_, meant)| meant).collect()
    }
}

impl std::fmt::Display for Meant {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.hardness_scale {
            None => write!(formatter, "{} {}", self.value, self.unit),
            Some(scale) => write!(formatter, "{} {}", self.value, scale.title()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_usual_is_possible_and_both_are_ranges() {
        for kind in QuantityKind::ALL {
            let Ranges { possible, usual } = kind.ranges();
            assert!(possible.0 <= usual.0 && usual.0 < usual.1 && usual.1 <= possible.1, "{kind}");
            for bound in [possible.0, possible.1] {
                assert!(kind.check(bound).is_ok(), "{kind} holds its own bound {bound}");
            }
            assert!(kind.check(possible.1 * 1.001 + 1e-3).is_err(), "{kind} ends");
        }
    }

    #[test]
    fn a_slip_is_guessed_by_unit_and_by_decimal_point() {
        let check = |kind: QuantityKind, value, unit, expected: &[&str]| {
            let meant = kind.perhaps_meant(value, unit, kind.ranges().usual);
            let meant: Vec<String> = meant.iter().map(ToString::to_string).collect();
            assert_eq!(meant, expected, "{value} {unit}");
        };
        check(QuantityKind::DynamicPressure, 300.0, "bar", &["300 kPa", "300 mbar"]);
        check(QuantityKind::StaticPressure, 43.0, "bar", &["43 kPa", "43 mbar", "43 [psi]", "4.3 bar"]);
        check(QuantityKind::Mass, 850.0, "kg", &["850 g", "850 [oz_av]", "85 kg", "8.5 kg"]);
        check(
            QuantityKind::Hardness,
            14.0,
            "mmol/L",
            &[
                "14 German degrees",
                "14 French degrees",
                "14 English degrees",
                "14 mg/L",
                "14 [gr]/[gal_us]",
                "1.4 mmol/L",
                "0.14 mmol/L",
                "0.014 mmol/L",
            ],
        );
        check(QuantityKind::Temperature, 680.0, "Cel", &["68 Cel", "6.8 Cel", "0.68 Cel"]);
        check(QuantityKind::Voltage, 2300.0, "V", &["2300 mV", "230 V", "23 V"]);
    }
}
