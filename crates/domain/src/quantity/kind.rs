use serde::{Deserialize, Serialize};

use super::QuantityError;
use super::unit::{self, Unit};

/// The kinds of quantity, each with its canonical unit, the units it takes and its possible range.
/// The keys are stable: they are stored, and part of the interface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum QuantityKind {
    /// Gauge pressure without flow.
    StaticPressure,
    /// Gauge pressure during flow.
    DynamicPressure,
    AbsolutePressure,
    /// Pressure lost between two taps.
    PressureDifference,
    Temperature,
    /// A difference of two temperatures.
    TemperatureInterval,
    Duration,
    Volume,
    VolumeFlow,
    /// Kv of IEC 60534-1.
    FlowCoefficient,
    /// Magnitude: root mean square of alternating, absolute value of direct voltage.
    Voltage,
    Current,
    Power,
    Resistance,
    InsulationResistance,
    Capacitance,
    Frequency,
    Conductivity,
    MassConcentration,
    /// Total hardness, Ca + Mg.
    Hardness,
    /// Total alkalinity as CaCO3.
    Alkalinity,
    Ph,
    /// A share or a ratio.
    Ratio,
    Length,
    /// Height above mean sea level.
    Altitude,
    Mass,
    RotationalSpeed,
    Count,
}

/// On which scale errors of a quantity are symmetric.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scale {
    Linear,
    Logarithmic,
}

impl QuantityKind {
    pub const ALL: [Self; 28] = [
        Self::StaticPressure,
        Self::DynamicPressure,
        Self::AbsolutePressure,
        Self::PressureDifference,
        Self::Temperature,
        Self::TemperatureInterval,
        Self::Duration,
        Self::Volume,
        Self::VolumeFlow,
        Self::FlowCoefficient,
        Self::Voltage,
        Self::Current,
        Self::Power,
        Self::Resistance,
        Self::InsulationResistance,
        Self::Capacitance,
        Self::Frequency,
        Self::Conductivity,
        Self::MassConcentration,
        Self::Hardness,
        Self::Alkalinity,
        Self::Ph,
        Self::Ratio,
        Self::Length,
        Self::Altitude,
        Self::Mass,
        Self::RotationalSpeed,
        Self::Count,
    ];

    /// The UCUM code of the unit in which values of this kind are computed and stored.
    pub fn canonical_unit(self) -> &'static str {
        self.units()[0].code
    }

    /// The UCUM codes that this kind takes; the first is canonical.
    pub fn accepted_units(self) -> impl Iterator<Item = &'static str> {
        self.units().iter().map(|unit| unit.code)
    }

    /// The key as it is stored and sent: `volume_flow`.
    pub fn key(self) -> &'static str {
        match self {
            Self::StaticPressure => "static_pressure",
            Self::DynamicPressure => "dynamic_pressure",
            Self::AbsolutePressure => "absolute_pressure",
            Self::PressureDifference => "pressure_difference",
            Self::Temperature => "temperature",
            Self::TemperatureInterval => "temperature_interval",
            Self::Duration => "duration",
            Self::Volume => "volume",
            Self::VolumeFlow => "volume_flow",
            Self::FlowCoefficient => "flow_coefficient",
            Self::Voltage => "voltage",
            Self::Current => "current",
            Self::Power => "power",
            Self::Resistance => "resistance",
            Self::InsulationResistance => "insulation_resistance",
            Self::Capacitance => "capacitance",
            Self::Frequency => "frequency",
            Self::Conductivity => "conductivity",
            Self::MassConcentration => "mass_concentration",
            Self::Hardness => "hardness",
            Self::Alkalinity => "alkalinity",
            Self::Ph => "ph",
            Self::Ratio => "ratio",
            Self::Length => "length",
            Self::Altitude => "altitude",
            Self::Mass => "mass",
            Self::RotationalSpeed => "rotational_speed",
            Self::Count => "count",
        }
    }

    /// Times and resistances are positive and err by a factor, the rest by a difference.
    pub fn scale(self) -> Scale {
        match self {
            Self::Duration | Self::Resistance | Self::InsulationResistance => Scale::Logarithmic,
            _ => Scale::Linear,
        }
    }

    /// The value in the canonical unit, of a value in the unit with this UCUM code.
    ///
    /// ```
    /// use domain::quantity::QuantityKind;
    /// let flow = QuantityKind::VolumeFlow.to_canonical(3.0, "[gal_us]/min").unwrap();
    /// assert!((flow - 11.356_235_352).abs() < 1e-9);
    /// let error = QuantityKind::Duration.to_canonical(12.0, "S").unwrap_err();
    /// assert_eq!(error.to_string(), "duration takes the UCUM codes s, ms, min, h, d, not \"S\" (case counts)");
    /// ```
    pub fn to_canonical(self, value: f64, ucum_code: &str) -> Result<f64, QuantityError> {
        let unit = self.unit(ucum_code)?;
        self.check(value * unit.factor + unit.offset)
    }

    /// The value in the unit with this UCUM code, of a value in the canonical unit.
    pub fn from_canonical(self, value: f64, ucum_code: &str) -> Result<f64, QuantityError> {
        let unit = self.unit(ucum_code)?;
        let converted = (self.check(value)? - unit.offset) / unit.factor;
        if converted.is_finite() { Ok(converted) } else { Err(QuantityError::NotFinite { kind: self }) }
    }

    /// Factor and offset by which a value in the unit with this UCUM code becomes one in the canonical unit, however large:
    /// for marks on an axis, which may lie where no value can.
    pub fn conversion(self, ucum_code: &str) -> Result<(f64, f64), QuantityError> {
        let unit = self.unit(ucum_code)?;
        Ok((unit.factor, unit.offset))
    }

    /// An uncertainty or a width in the canonical unit: the factor applies, an offset does not. None is wider than all that
    /// the kind can be.
    pub fn interval_to_canonical(self, width: f64, ucum_code: &str) -> Result<f64, QuantityError> {
        let converted = width * self.unit(ucum_code)?.factor;
        if !(converted.is_finite() && converted >= 0.0) {
            return Err(QuantityError::NegativeInterval { kind: self });
        }
        let (minimum, maximum) = self.ranges().possible;
        if converted <= maximum - minimum {
            Ok(converted)
        } else {
            Err(QuantityError::WiderThanItsRange { kind: self })
        }
    }

    /// The value if it is finite and possible for this kind; it is in the canonical unit.
    pub fn check(self, value: f64) -> Result<f64, QuantityError> {
        let (minimum, maximum) = self.ranges().possible;
        let unit = self.canonical_unit();
        if !value.is_finite() {
            Err(QuantityError::NotFinite { kind: self })
        } else if value < minimum {
            Err(QuantityError::TooSmall { kind: self, value, minimum, unit })
        } else if value > maximum {
            Err(QuantityError::TooLarge { kind: self, value, maximum, unit })
        } else {
            Ok(value)
        }
    }

    fn unit(self, ucum_code: &str) -> Result<&'static Unit, QuantityError> {
        let spelled = unit::with_capital_litre(ucum_code);
        self.units().iter().find(|unit| unit.code == spelled).ok_or_else(|| QuantityError::UnitDoesNotFit {
            kind: self,
            code: ucum_code.chars().take(40).collect(),
            accepted: self.accepted_units().collect::<Vec<_>>().join(", "),
        })
    }

    fn units(self) -> &'static [Unit] {
        match self {
            Self::StaticPressure
            | Self::DynamicPressure
            | Self::AbsolutePressure
            | Self::PressureDifference => unit::PRESSURE,
            Self::Temperature => unit::TEMPERATURE,
            Self::TemperatureInterval => unit::TEMPERATURE_INTERVAL,
            Self::Duration => unit::DURATION,
            Self::Volume => unit::VOLUME,
            Self::VolumeFlow => unit::VOLUME_FLOW,
            Self::FlowCoefficient => unit::FLOW_COEFFICIENT,
            Self::Voltage => unit::VOLTAGE,
            Self::Current => unit::CURRENT,
            Self::Power => unit::POWER,
            Self::Resistance => unit::RESISTANCE,
            Self::InsulationResistance => unit::INSULATION_RESISTANCE,
            Self::Capacitance => unit::CAPACITANCE,
            Self::Frequency => unit::FREQUENCY,
            Self::Conductivity => unit::CONDUCTIVITY,
            Self::MassConcentration => unit::MASS_CONCENTRATION,
            Self::Hardness => unit::HARDNESS,
            Self::Alkalinity => unit::ALKALINITY,
            Self::Ph => unit::PH,
            Self::Ratio => unit::RATIO,
            Self::Length => unit::LENGTH,
            Self::Altitude => unit::ALTITUDE,
            Self::Mass => unit::MASS,
            Self::RotationalSpeed => unit::ROTATIONAL_SPEED,
            Self::Count => unit::COUNT,
        }
    }
}

impl std::fmt::Display for QuantityKind {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.key().replace('_', " "))
    }
}
