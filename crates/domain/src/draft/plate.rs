use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::equipment::{FunctionalLimit, HeaterWiring};
use crate::text::{Key, Name};
use crate::vocabulary::Position;

/// What stands on a machine's plate and what anybody can time or measure at a sound one. Units stand in the
/// names. What a position needs must be given; a position that is left out is switched off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plate {
    pub key: Key,
    pub title: Name,
    pub positions: BTreeSet<Position>,
    /// Gauge pressure of the supply without flow for which the times hold.
    #[serde(default = "usual_pressure")]
    pub static_pressure_bar: f64,
    #[serde(default = "usual_voltage")]
    pub supply_voltage_v: f64,
    #[serde(default = "usual_water")]
    pub water_temperature_cel: f64,
    /// Water in the full vessel: the sump of a wash, the tank of a warewasher, the generator of a steamer.
    pub vessel_l: Option<f64>,
    /// From first water to the full mark.
    pub fill_time_s: Option<f64>,
    /// How long the controls wait for the mark; three usual fills if left out.
    pub fill_allowed_s: Option<f64>,
    /// Drop of pressure from which a flow regulator holds the fill's flow, where the machine has one.
    pub regulator_from_bar: Option<f64>,
    /// The timed call of water at the start of a cycle, where the machine makes one.
    pub start_up_call_s: Option<f64>,
    pub wash_flow_l_per_min: Option<f64>,
    /// How long a wash runs without a pause.
    pub wash_run_s: Option<f64>,
    pub motor_current_a: Option<f64>,
    pub capacitor_uf: Option<f64>,
    /// From the full mark until the vessel is empty.
    pub drain_time_s: Option<f64>,
    pub heater: Option<PlateHeater>,
    /// Liquid chemical that the dosing pump gives in one wash, where it is measured.
    pub dose_ml: Option<f64>,
    /// Fresh water of one rinse, where it is measured.
    pub rinse_volume_l: Option<f64>,
    /// From command to steady steam.
    pub steam_time_s: Option<f64>,
    #[serde(default)]
    pub wash_stages_cel: Vec<f64>,
    pub highest_temperature_cel: Option<f64>,
    /// Limits that a person knows better: each takes the place of the drafted limit on the same measurement.
    #[serde(default)]
    pub functional_limits: Vec<FunctionalLimit>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlateHeater {
    pub elements: u32,
    pub power_per_element_w: f64,
    pub wiring: HeaterWiring,
    pub rated_voltage_v: f64,
    /// From the water's temperature to the last stage of the wash; without stages to 95 °C, and if it is then left
    /// out, the time to steam.
    pub heating_time_s: Option<f64>,
}

const fn usual_pressure() -> f64 {
    3.0
}

const fn usual_voltage() -> f64 {
    230.0
}

const fn usual_water() -> f64 {
    15.0
}
