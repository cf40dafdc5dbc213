use serde::{Deserialize, Serialize};

/// What the water passes from the building's supply to the sump, as flow coefficients in series
/// (IEC 60534-2-1).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FillCircuit {
    /// The supply line up to the tap at which dynamic pressure is read.
    pub line_kv_m3_per_h: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inlet_strainer_kv_m3_per_h: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub valve_strainer_kv_m3_per_h: Option<f64>,
    pub fill_valve_kv_m3_per_h: f64,
    /// Liquid pressure recovery factor F_L of the fill valve, without unit.
    pub fill_valve_pressure_recovery: f64,
    /// From command to first water.
    pub opening_time_s: f64,
    /// How long the controls wait for the mark before they go on with the water that has come; none: they
    /// wait for ever.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub allowed_s: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub restrictor_kv_m3_per_h: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub regulator: Option<FlowRegulator>,
}

/// Keeps the flow constant above its minimum pressure; fill time then says nothing of pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FlowRegulator {
    pub flow_l_per_min: f64,
    pub minimum_pressure_bar: f64,
}

/// The timed call of water at the start of a cycle, caught in a bucket.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StartUpCall {
    pub duration_s: f64,
    /// Volume of the bucket with which the model's limits are stated.
    pub bucket_l: f64,
}

/// The vessel that the wash pump draws from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sump {
    pub full_l: f64,
    /// Below this the pump's flow falls in proportion, down to `dry_l`.
    pub starving_l: f64,
    /// At and below this the pump gives nothing.
    pub dry_l: f64,
    /// From pump to return into the sump.
    pub return_delay_s: f64,
    /// Free surface of the water, to turn a fall of level into litres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surface_m2: Option<f64>,
}

/// Pump `H = H₀ − a·Q²` against system `H = H_st + k·Q²`; H in metres of water, Q in L/s.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WashPump {
    pub shut_off_head_m: f64,
    pub curve_m_per_l_per_s_squared: f64,
    pub system_static_head_m: f64,
    pub system_curve_m_per_l_per_s_squared: f64,
    /// How long the wash run of the procedure lasts on this model.
    pub run_s: f64,
    /// Current of the healthy motor at its reference voltage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub motor_current_a: Option<f64>,
}

/// How the sump empties.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "snake_case", deny_unknown_fields)]
pub enum Drain {
    Pump {
        flow_l_per_s: f64,
    },
    /// Torricelli with a constant free surface much larger than the outlet.
    Gravity {
        surface_m2: f64,
        outlet_area_m2: f64,
        discharge_coefficient: f64,
        head_full_m: f64,
        head_empty_m: f64,
    },
}
