use super::quantity;

quantity! {
    /// A span of time, in seconds.
    Duration, from_seconds, seconds
}

quantity! {
    /// A share or a ratio, in percent.
    Ratio, from_percent, percent
}

quantity! {
    /// A length, a level or a head, in metres.
    Length, from_metres, metres
}

quantity! {
    /// Height above mean sea level, in metres.
    Altitude, from_metres, metres
}

quantity! {
    /// A mass, in kilograms.
    Mass, from_kilograms, kilograms
}

quantity! {
    /// Turns per minute.
    RotationalSpeed, from_turns_per_minute, turns_per_minute
}

quantity! {
    /// How many.
    Count, from_number, number
}

impl Ratio {
    /// From a fraction: 0.9 is 90 %.
    pub fn from_fraction(fraction: f64) -> Result<Self, super::QuantityError> {
        Self::from_percent(fraction * 100.0)
    }

    pub fn fraction(self) -> f64 {
        self.0 / 100.0
    }
}
