use super::{QuantityError, quantity};

quantity! {
    /// A volume, in litres.
    Volume, from_litres, litres
}

quantity! {
    /// A volume flow, in litres per minute.
    VolumeFlow, from_litres_per_minute, litres_per_minute
}

quantity! {
    /// The flow coefficient Kv of IEC 60534-1: the flow in m³/h of water at 5 °C to 40 °C that loses
    /// 1 bar on its way.
    FlowCoefficient, from_cubic_metres_per_hour, cubic_metres_per_hour
}

impl VolumeFlow {
    pub fn litres_per_second(self) -> f64 {
        self.0 / 60.0
    }

    pub fn cubic_metres_per_hour(self) -> f64 {
        self.0 * 0.06
    }
}

impl FlowCoefficient {
    /// The same element passing this share of its flow: 0 when blocked.
    pub fn scaled(self, factor: f64) -> Result<Self, QuantityError> {
        Self::from_cubic_metres_per_hour(self.0 * factor)
    }
}
