//! The units of each kind: UCUM code, factor and offset to the canonical unit, which comes first.
//! Factors are exact by definition (SI brochure, 9th edition; international yard and pound; UCUM 2.1,
//! tables 4 to 12) unless a comment says otherwise.

use std::borrow::Cow;

/// `canonical = value * factor + offset`.
pub(super) struct Unit {
    pub code: &'static str,
    pub factor: f64,
    pub offset: f64,
}

const fn unit(code: &'static str, factor: f64) -> Unit {
    Unit { code, factor, offset: 0.0 }
}

/// 1 `[psi]` = 1 `[lbf_av]/[sin_i]`: 0.453 592 37 kg · 9.806 65 m/s² on (25.4 mm)², in bar.
const PSI: f64 = 0.453_592_37 * 9.806_65 / (0.0254 * 0.0254) * 1e-5;
const US_GALLON: f64 = 3.785_411_784;
const IMPERIAL_GALLON: f64 = 4.546_09;
const GRAIN_MG: f64 = 64.798_91;
/// mg/L in one grain per US gallon.
const GRAIN_PER_US_GALLON: f64 = GRAIN_MG / US_GALLON;
const FOOT: f64 = 0.3048;
/// Molar mass of CaCO3 in g/mol: 40.078 + 12.011 + 3 · 15.999 (standard atomic weights, abridged).
pub(super) const CALCIUM_CARBONATE: f64 = 100.086;

pub(super) const PRESSURE: &[Unit] = &[
    unit("bar", 1.0),
    unit("Pa", 1e-5),
    unit("kPa", 0.01),
    unit("MPa", 10.0),
    unit("mbar", 0.001),
    unit("[psi]", PSI),
];
pub(super) const TEMPERATURE: &[Unit] = &[
    unit("Cel", 1.0),
    Unit { code: "K", factor: 1.0, offset: -273.15 },
    Unit { code: "[degF]", factor: 5.0 / 9.0, offset: -160.0 / 9.0 },
];
pub(super) const TEMPERATURE_INTERVAL: &[Unit] =
    &[unit("K", 1.0), unit("Cel", 1.0), unit("[degF]", 5.0 / 9.0)];
pub(super) const DURATION: &[Unit] =
    &[unit("s", 1.0), unit("ms", 0.001), unit("min", 60.0), unit("h", 3600.0), unit("d", 86_400.0)];
pub(super) const VOLUME: &[Unit] = &[
    unit("L", 1.0),
    unit("mL", 0.001),
    unit("dm3", 1.0),
    unit("m3", 1000.0),
    unit("[gal_us]", US_GALLON),
    unit("[qt_us]", US_GALLON / 4.0),
    unit("[foz_us]", US_GALLON / 128.0),
    unit("[gal_br]", IMPERIAL_GALLON),
];
pub(super) const VOLUME_FLOW: &[Unit] = &[
    unit("L/min", 1.0),
    unit("L/s", 60.0),
    unit("L/h", 1.0 / 60.0),
    unit("mL/min", 0.001),
    unit("m3/h", 1000.0 / 60.0),
    unit("[gal_us]/min", US_GALLON),
    unit("[gal_br]/min", IMPERIAL_GALLON),
];
pub(super) const FLOW_COEFFICIENT: &[Unit] = &[unit("m3/h", 1.0), unit("L/min", 0.06)];
pub(super) const VOLTAGE: &[Unit] = &[unit("V", 1.0), unit("mV", 0.001), unit("kV", 1000.0)];
pub(super) const CURRENT: &[Unit] = &[unit("A", 1.0), unit("uA", 1e-6), unit("mA", 0.001)];
pub(super) const POWER: &[Unit] = &[unit("W", 1.0), unit("kW", 1000.0)];
pub(super) const RESISTANCE: &[Unit] =
    &[unit("Ohm", 1.0), unit("mOhm", 0.001), unit("kOhm", 1000.0), unit("MOhm", 1e6)];
pub(super) const INSULATION_RESISTANCE: &[Unit] =
    &[unit("MOhm", 1.0), unit("Ohm", 1e-6), unit("kOhm", 0.001), unit("GOhm", 1000.0)];
pub(super) const CAPACITANCE: &[Unit] =
    &[unit("uF", 1.0), unit("nF", 0.001), unit("mF", 1000.0), unit("F", 1e6)];
pub(super) const FREQUENCY: &[Unit] = &[unit("Hz", 1.0), unit("kHz", 1000.0)];
pub(super) const CONDUCTIVITY: &[Unit] =
    &[unit("uS/cm", 1.0), unit("mS/cm", 1000.0), unit("mS/m", 10.0), unit("S/m", 10_000.0)];
pub(super) const MASS_CONCENTRATION: &[Unit] = &[
    unit("mg/L", 1.0),
    unit("ug/L", 0.001),
    unit("g/L", 1000.0),
    unit("[gr]/[gal_us]", GRAIN_PER_US_GALLON),
];
/// Masses are as CaCO3.
pub(super) const HARDNESS: &[Unit] = &[
    unit("mmol/L", 1.0),
    unit("mg/L", 1.0 / CALCIUM_CARBONATE),
    unit("[gr]/[gal_us]", GRAIN_PER_US_GALLON / CALCIUM_CARBONATE),
];
/// Masses are as CaCO3, of which one mole binds two equivalents of acid.
pub(super) const ALKALINITY: &[Unit] =
    &[unit("mg/L", 1.0), unit("meq/L", CALCIUM_CARBONATE / 2.0), unit("[gr]/[gal_us]", GRAIN_PER_US_GALLON)];
pub(super) const PH: &[Unit] = &[unit("[pH]", 1.0)];
pub(super) const RATIO: &[Unit] = &[unit("%", 1.0), unit("1", 100.0)];
pub(super) const LENGTH: &[Unit] =
    &[unit("m", 1.0), unit("mm", 0.001), unit("cm", 0.01), unit("[in_i]", FOOT / 12.0), unit("[ft_i]", FOOT)];
pub(super) const ALTITUDE: &[Unit] = &[unit("m", 1.0), unit("km", 1000.0), unit("[ft_i]", FOOT)];
pub(super) const MASS: &[Unit] =
    &[unit("kg", 1.0), unit("g", 0.001), unit("[lb_av]", 0.453_592_37), unit("[oz_av]", 0.453_592_37 / 16.0)];
pub(super) const ROTATIONAL_SPEED: &[Unit] = &[unit("/min", 1.0), unit("/s", 60.0)];
pub(super) const COUNT: &[Unit] = &[unit("1", 1.0)];

/// UCUM spells the litre `L` or `l`; the tables hold `L`.
pub(super) fn with_capital_litre(code: &str) -> Cow<'_, str> {
    let is_litre = |term: &str| matches!(term, "l" | "ml");
    if !code.split('/').any(is_litre) {
        return Cow::Borrowed(code);
    }
    let terms: Vec<String> = code
        .split('/')
        .map(|term| if is_litre(term) { term.replace('l', "L") } else { term.to_owned() })
        .collect();
    Cow::Owned(terms.join("/"))
}
