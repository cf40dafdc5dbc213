//! What a model looks like on the wire: the domain's own form, which knows nothing of OpenAPI.
#![expect(dead_code, reason = "requests and answers are the domain's types; these only give their schemas")]

use serde::Deserialize;
use utoipa::ToSchema;

use crate::schema;

/// One version of one model of machine. Units stand in the names of the fields.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Model {
    #[schema(value_type = schema::Key)]
    key: String,
    #[schema(minimum = 1, maximum = 2_147_483_647)]
    version: u32,
    #[schema(value_type = schema::Name)]
    title: String,
    /// The positions that this model has.
    #[schema(value_type = Vec<schema::PositionWord>, min_items = 1, max_items = 100)]
    positions: Vec<String>,
    reference: ReferenceConditions,
    #[schema(nullable = false)]
    fill: Option<FillCircuit>,
    #[schema(nullable = false)]
    start_up_call: Option<StartUpCall>,
    #[schema(nullable = false)]
    sump: Option<Sump>,
    #[schema(nullable = false)]
    wash_pump: Option<WashPump>,
    #[schema(nullable = false)]
    drain: Option<Drain>,
    #[schema(nullable = false)]
    heater: Option<Heater>,
    /// To which the wash heats one after the other, rising; empty where it does not heat in stages.
    #[schema(required = false, max_items = 3)]
    wash_stages_cel: Vec<f64>,
    /// Of what a person can touch or be scalded by: cautions say it.
    #[schema(minimum = 0, maximum = 400, nullable = false)]
    highest_temperature_cel: Option<f64>,
    #[schema(required = false)]
    water_limits: WaterLimits,
    /// What a reading must hold for the machine to do its job.
    #[schema(required = false, max_items = 1000)]
    functional_limits: Vec<FunctionalLimit>,
    /// What a healthy machine of this model shows at the reference conditions.
    #[schema(required = false, max_items = 1000)]
    typical_values: Vec<TypicalValue>,
}

/// The conditions to which readings of this model are corrected before they are compared.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReferenceConditions {
    /// Gauge pressure of the supply without flow.
    static_pressure_bar: f64,
    /// Gauge pressure at the tap before the inlet strainer while a healthy machine fills.
    dynamic_pressure_bar: f64,
    supply_voltage_v: f64,
    water_temperature_cel: f64,
}

/// What the water passes from the building's supply to the sump, as flow coefficients in series.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FillCircuit {
    /// The supply line up to the tap at which dynamic pressure is read.
    line_kv_m3_per_h: f64,
    #[schema(nullable = false)]
    inlet_strainer_kv_m3_per_h: Option<f64>,
    #[schema(nullable = false)]
    valve_strainer_kv_m3_per_h: Option<f64>,
    fill_valve_kv_m3_per_h: f64,
    /// Liquid pressure recovery factor F_L of the fill valve.
    fill_valve_pressure_recovery: f64,
    /// From command to first water.
    opening_time_s: f64,
    /// How long the controls wait for the mark before they go on with the water that has come. Not given: for ever.
    #[schema(nullable = false)]
    allowed_s: Option<f64>,
    #[schema(nullable = false)]
    restrictor_kv_m3_per_h: Option<f64>,
    #[schema(nullable = false)]
    regulator: Option<FlowRegulator>,
}

/// Keeps the flow constant above its minimum pressure.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FlowRegulator {
    flow_l_per_min: f64,
    minimum_pressure_bar: f64,
}

/// The timed call of water at the start of a cycle, caught in a bucket.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StartUpCall {
    duration_s: f64,
    bucket_l: f64,
}

/// The vessel that the wash pump draws from.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Sump {
    full_l: f64,
    /// Below this the pump's flow falls.
    starving_l: f64,
    /// At and below this the pump gives nothing.
    dry_l: f64,
    /// From pump to return into the sump.
    return_delay_s: f64,
    /// Free surface of the water.
    #[schema(nullable = false)]
    surface_m2: Option<f64>,
}

/// Pump H = H₀ − a·Q² against system H = H_st + k·Q²; H in metres of water, Q in L/s.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WashPump {
    shut_off_head_m: f64,
    curve_m_per_l_per_s_squared: f64,
    system_static_head_m: f64,
    system_curve_m_per_l_per_s_squared: f64,
    run_s: f64,
    #[schema(nullable = false)]
    motor_current_a: Option<f64>,
}

/// How the sump empties.
#[derive(Deserialize, ToSchema)]
#[serde(untagged)]
pub enum Drain {
    Pump(PumpDrain),
    Gravity(GravityDrain),
}

/// By a pump.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PumpDrain {
    #[schema(inline)]
    by: ByPump,
    flow_l_per_s: f64,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ByPump {
    Pump,
}

/// Through an outlet, by its own weight.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GravityDrain {
    #[schema(inline)]
    by: ByGravity,
    surface_m2: f64,
    outlet_area_m2: f64,
    discharge_coefficient: f64,
    head_full_m: f64,
    head_empty_m: f64,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ByGravity {
    Gravity,
}

/// Heating elements and what they warm.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Heater {
    #[schema(minimum = 1, maximum = 1000)]
    elements: u32,
    power_per_element_w: f64,
    wiring: HeaterWiring,
    rated_voltage_v: f64,
    loss_w: f64,
    metal_kg: f64,
    metal_heat_capacity_kj_per_kg_k: f64,
    water_kg: f64,
    water_heat_capacity_kj_per_kg_k: f64,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HeaterWiring {
    SinglePhase,
    StarWithNeutral,
    StarWithoutNeutral,
    Delta,
}

/// What water the model takes. A missing entry is not limited.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WaterLimits {
    #[schema(nullable = false)]
    hardness_mg_per_l_caco3: Option<Bounds>,
    #[schema(nullable = false)]
    conductivity_us_per_cm: Option<Bounds>,
    #[schema(nullable = false)]
    chloride_mg_per_l: Option<Bounds>,
    #[schema(nullable = false)]
    ph: Option<Bounds>,
    #[schema(nullable = false)]
    langelier_index: Option<Bounds>,
}

/// Lower and upper end, either of which may be open.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Bounds {
    #[schema(nullable = false)]
    lower: Option<f64>,
    #[schema(nullable = false)]
    upper: Option<f64>,
}

/// A step of a procedure, or a statistic of the series that it records.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    #[schema(value_type = schema::Key)]
    procedure: String,
    #[schema(value_type = schema::Key)]
    step: String,
    #[schema(nullable = false)]
    statistic: Option<SeriesStatistic>,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SeriesStatistic {
    FirstFlow,
    FirstFall,
    LastFifthShare,
}

/// Limits on one measurement; a missing side is unlimited.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FunctionalLimit {
    of: Measurement,
    #[schema(value_type = schema::QuantityWord)]
    quantity: String,
    #[schema(nullable = false)]
    lower: Option<f64>,
    #[schema(nullable = false)]
    upper: Option<f64>,
    /// UCUM code.
    #[schema(min_length = 1, max_length = 32)]
    unit: String,
}

/// A healthy value and the range that healthy machines keep, at the reference conditions.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TypicalValue {
    of: Measurement,
    #[schema(value_type = schema::QuantityWord)]
    quantity: String,
    value: f64,
    #[schema(nullable = false)]
    lower: Option<f64>,
    #[schema(nullable = false)]
    upper: Option<f64>,
    /// UCUM code.
    #[schema(min_length = 1, max_length = 32)]
    unit: String,
}
