use super::{QuantityError, quantity};

quantity! {
    /// Gauge pressure at the head of the supply line while nothing flows, in bar.
    StaticPressure, from_bar, bar
}

quantity! {
    /// Gauge pressure while water flows, in bar; the procedure names the tap at which it is read.
    DynamicPressure, from_bar, bar
}

quantity! {
    /// Pressure above vacuum, in bar.
    AbsolutePressure, from_bar, bar
}

quantity! {
    /// Pressure lost between two taps, in bar.
    PressureDifference, from_bar, bar
}

impl AbsolutePressure {
    /// The air at sea level in the standard atmosphere, 1013.25 hPa (ISO 2533:1975, table 1).
    pub const STANDARD_ATMOSPHERE: Self = Self(1.013_25);

    /// The critical pressure of water, 22.064 MPa (IAPWS R7-97(2012), equation 3).
    pub const CRITICAL_OF_WATER: Self = Self(220.64);

    pub fn kilopascals(self) -> f64 {
        self.0 * 100.0
    }

    pub fn megapascals(self) -> f64 {
        self.0 / 10.0
    }
}

impl StaticPressure {
    /// Above vacuum, given the pressure of the air around the gauge.
    pub fn absolute(self, atmosphere: AbsolutePressure) -> Result<AbsolutePressure, QuantityError> {
        AbsolutePressure::from_bar(self.0 + atmosphere.0)
    }
}

impl DynamicPressure {
    /// Above vacuum, given the pressure of the air around the gauge.
    pub fn absolute(self, atmosphere: AbsolutePressure) -> Result<AbsolutePressure, QuantityError> {
        AbsolutePressure::from_bar(self.0 + atmosphere.0)
    }
}
