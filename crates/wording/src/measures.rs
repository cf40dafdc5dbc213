//! In which units measured values are told, and how they are written.

use domain::quantity::QuantityKind;

use crate::Manner;

/// A system of units that people think in. What is kept and computed is in the canonical units either way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Measures {
    /// °C, bar, litres.
    #[default]
    Metric,
    /// °F, psi, US gallons: what is customary in the United States.
    Customary,
}

impl Measures {
    pub const ALL: [Self; 2] = [Self::Metric, Self::Customary];

    pub const fn key(self) -> &'static str {
        match self {
            Self::Metric => "metric",
            Self::Customary => "customary",
        }
    }

    /// Some of its units, by which people know it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Metric => "°C, bar, L",
            Self::Customary => "°F, psi, gal",
        }
    }

    pub fn of_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|measures| measures.key() == key)
    }

    /// What is told here and now.
    pub fn spoken() -> Self {
        Manner::now().measures
    }
}

/// A unit in which people are told a value, and how the canonical value becomes one in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    name: &'static str,
    /// Canonical = told × factor + offset.
    factor: f64,
    offset: f64,
}

/// Canonical unit, the customary one, how people write that, and a kind of quantity that has both.
const CUSTOMARY: &[(&str, &str, &str, QuantityKind)] = &[
    ("bar", "[psi]", "psi", QuantityKind::PressureDifference),
    ("Cel", "[degF]", "°F", QuantityKind::Temperature),
    // A difference is written apart from a temperature, as °C and K are.
    ("K", "[degF]", "°F", QuantityKind::TemperatureInterval),
    ("L", "[gal_us]", "gal", QuantityKind::Volume),
    ("L/min", "[gal_us]/min", "gal/min", QuantityKind::VolumeFlow),
    ("mmol/L", "[gr]/[gal_us]", "gr/gal", QuantityKind::Hardness),
    ("m", "[in_i]", "in", QuantityKind::Length),
    ("kg", "[lb_av]", "lb", QuantityKind::Mass),
];

impl Unit {
    pub const NONE: Self = Self { name: "", factor: 1.0, offset: 0.0 };

    /// In which a value is told whose canonical unit has this UCUM code; without a name for a code that is not known.
    pub fn of(code: &str) -> Self {
        if Measures::spoken() == Measures::Customary
            && let Some((_, customary, name, kind)) = CUSTOMARY.iter().find(|row| row.0 == code)
            && let Ok((factor, offset)) = kind.conversion(customary)
        {
            return Self { name, factor, offset };
        }
        // Levels and lengths in this trade are millimetres.
        if code == "m" {
            return Self { name: "mm", factor: 0.001, offset: 0.0 };
        }
        Self { name: written(code).unwrap_or_default(), ..Self::NONE }
    }

    /// As people write it; empty for a code that is not known.
    pub fn name(self) -> &'static str {
        self.name
    }

    /// The canonical value, told in this unit.
    pub fn told(self, canonical: f64) -> f64 {
        (canonical - self.offset) / self.factor
    }

    /// What was typed in this unit, in the canonical one.
    pub fn canonical(self, typed: f64) -> f64 {
        typed * self.factor + self.offset
    }
}

/// The UCUM code of the unit in which a quantity is typed where nothing else is chosen.
pub fn usual_code(kind: QuantityKind) -> &'static str {
    let canonical = kind.canonical_unit();
    if Measures::spoken() == Measures::Metric {
        return canonical;
    }
    let customary = CUSTOMARY.iter().find(|row| row.0 == canonical && kind.conversion(row.1).is_ok());
    customary.map_or(canonical, |row| row.1)
}

fn written(code: &str) -> Option<&'static str> {
    Some(match code {
        "bar" => "bar",
        "Cel" => "°C",
        "K" => "K",
        "s" => "s",
        "L" => "L",
        "L/min" => "L/min",
        "m3/h" => "m³/h",
        "V" => "V",
        "A" => "A",
        "W" => "W",
        "Ohm" => "Ω",
        "MOhm" => "MΩ",
        "uF" => "µF",
        "Hz" => "Hz",
        "uS/cm" => "µS/cm",
        "mg/L" => "mg/L",
        "mmol/L" => "mmol/L",
        "%" => "%",
        "kg" => "kg",
        "/min" => "/min",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speaking_now;

    fn customary<T>(work: impl FnOnce() -> T) -> T {
        speaking_now(Manner { measures: Measures::Customary, ..Manner::default() }, work)
    }

    #[test]
    fn values_are_told_in_the_units_that_somebody_thinks_in() {
        // NIST SP 811 (2008), appendix B: 1 psi = 6.894 757 kPa, 1 US gallon = 3.785 412 L, °F = 1.8 °C + 32, 1 inch =
        // 25.4 mm, 1 lb = 0.453 592 37 kg; one grain per US gallon = 17.118 06 mg/L, of CaCO3 0.171 034 mmol/L.
        for (code, canonical, name, told) in [
            ("bar", 2.8, "psi", 40.610_55),
            ("Cel", 85.0, "°F", 185.0),
            ("Cel", -40.0, "°F", -40.0),
            ("K", 5.0, "°F", 9.0),
            ("L", 3.785_412, "gal", 1.0),
            ("L/min", 11.356_236, "gal/min", 3.0),
            ("m", 0.0254, "in", 1.0),
            ("kg", 0.453_592_37, "lb", 1.0),
            ("mmol/L", 0.171_034, "gr/gal", 1.0),
            ("s", 72.0, "s", 72.0),
        ] {
            let unit = customary(|| Unit::of(code));
            assert_eq!(unit.name(), name);
            assert!(
                (unit.told(canonical) - told).abs() < 5e-6 * told.abs().max(1.0),
                "{code}: {}",
                unit.told(canonical)
            );
            assert!(
                (unit.canonical(unit.told(canonical)) - canonical).abs() < 1e-12 * canonical.abs().max(1.0)
            );
        }
        assert_eq!(Unit::of("bar"), Unit { name: "bar", ..Unit::NONE });
        assert!((Unit::of("m").told(0.003) - 3.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_typed_first_is_what_is_told() {
        for kind in QuantityKind::ALL {
            assert_eq!(usual_code(kind), kind.canonical_unit());
            let (code, unit) = customary(|| (usual_code(kind), Unit::of(kind.canonical_unit())));
            if code != kind.canonical_unit() {
                assert_eq!(kind.conversion(code).unwrap(), (unit.factor, unit.offset), "{kind}");
            }
        }
        assert_eq!(customary(|| usual_code(QuantityKind::DynamicPressure)), "[psi]");
        assert_eq!(customary(|| usual_code(QuantityKind::Altitude)), "m");
    }
}
