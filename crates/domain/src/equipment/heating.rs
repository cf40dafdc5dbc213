use serde::{Deserialize, Serialize};

/// Heating elements and what they warm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Heater {
    pub elements: u32,
    pub power_per_element_w: f64,
    pub wiring: HeaterWiring,
    pub rated_voltage_v: f64,
    /// Taken as constant over the stages.
    pub loss_w: f64,
    pub metal_kg: f64,
    pub metal_heat_capacity_kj_per_kg_k: f64,
    pub water_kg: f64,
    pub water_heat_capacity_kj_per_kg_k: f64,
}

/// Decides what is left of the power when an element opens or a phase is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeaterWiring {
    SinglePhase,
    StarWithNeutral,
    StarWithoutNeutral,
    Delta,
}
