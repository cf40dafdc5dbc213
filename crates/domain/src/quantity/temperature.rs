use super::{QuantityError, quantity};

quantity! {
    /// A temperature, in degrees Celsius.
    Temperature, from_celsius, celsius
}

quantity! {
    /// A difference of temperatures, in kelvin; of either sign.
    TemperatureInterval, from_kelvin, kelvin
}

impl Temperature {
    /// The thermodynamic temperature, in kelvin.
    pub fn kelvin(self) -> f64 {
        self.0 + 273.15
    }

    pub fn plus(self, interval: TemperatureInterval) -> Result<Self, QuantityError> {
        Self::from_celsius(self.0 + interval.0)
    }

    /// How much warmer this is than the other.
    pub fn above(self, other: Self) -> TemperatureInterval {
        TemperatureInterval(self.0 - other.0)
    }
}
