//! The machines as the catalogue knows them: which positions a model has, with the data from which its
//! behaviour follows, and the limits it must hold. Elements that a model lacks are absent, not faked.
//!
//! Units stand in the names of the fields. Limits live here or in an appliance's own record, never in
//! code.

mod circuit;
mod fault;
mod heating;
mod limits;
mod validation;
mod wash_stage;

pub use circuit::{Drain, FillCircuit, FlowRegulator, StartUpCall, Sump, WashPump};
pub use fault::{
    Bands, CallsWithoutFault, Change, DAYS_PER_YEAR, Dimension, Effect, Extent, Fault, FaultCatalogue,
    Follows, Inspection, Losses, MISNAMED, Mandatory, MandatoryTest, MeasurementModel, Misread,
    NotAnObservationKey, ObservationKey, Parameter, PartNeed, Reads, Remedy, Shows, Spreads, Subsystem,
    Switch, Target, as_named, built_in_fault_catalogues, demo_combi_faults, demo_warewasher_faults,
};
pub use heating::{Heater, HeaterWiring};
pub use limits::{Bounds, FunctionalLimit, Measurement, SeriesStatistic, TypicalValue, WaterLimits};
pub use wash_stage::WashStage;

use std::collections::BTreeSet;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use crate::text::{Key, Name};
use crate::violation::Violation;
use crate::vocabulary::Position;

/// One version of one model of machine. A version that was used never changes; a change is a new
/// version.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Model {
    pub key: Key,
    pub version: u32,
    pub title: Name,
    /// The positions that this model has.
    pub positions: BTreeSet<Position>,
    pub reference: ReferenceConditions,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fill: Option<FillCircuit>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_up_call: Option<StartUpCall>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sump: Option<Sump>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wash_pump: Option<WashPump>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drain: Option<Drain>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heater: Option<Heater>,
    /// To which the wash heats one after the other, °C, rising; empty where it does not heat in stages.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub wash_stages_cel: Vec<f64>,
    /// Of what a person can touch or be scalded by, °C: its cautions say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub highest_temperature_cel: Option<f64>,
    #[serde(default)]
    pub water_limits: WaterLimits,
    /// What a reading must hold for the machine to do its job.
    #[serde(default)]
    pub functional_limits: Vec<FunctionalLimit>,
    /// What a healthy machine of this model shows at the reference conditions.
    #[serde(default)]
    pub typical_values: Vec<TypicalValue>,
}

/// The conditions to which readings of this model are corrected before they are compared.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReferenceConditions {
    /// Gauge pressure of the supply without flow.
    pub static_pressure_bar: f64,
    /// Gauge pressure at the tap before the inlet strainer while a healthy machine fills.
    pub dynamic_pressure_bar: f64,
    pub supply_voltage_v: f64,
    pub water_temperature_cel: f64,
}

impl Model {
    pub fn has(&self, position: Position) -> bool {
        self.positions.contains(&position)
    }

    /// How hot a stage of the wash is; none where the model has no such stage.
    pub fn stage_cel(&self, stage: WashStage) -> Option<f64> {
        self.wash_stages_cel.get(stage.index()).copied()
    }

    /// The functional limit on a measurement, if the model states one.
    pub fn functional_limit(&self, measurement: &Measurement) -> Option<&FunctionalLimit> {
        self.functional_limits.iter().find(|limit| limit.of == *measurement)
    }

    /// The typical value of a measurement on a healthy machine, if the model states one.
    pub fn typical_value(&self, measurement: &Measurement) -> Option<&TypicalValue> {
        self.typical_values.iter().find(|typical| typical.of == *measurement)
    }

    /// Everything that is wrong with the model, each with a JSON Pointer into it.
    pub fn validate(&self) -> Result<(), Vec<Violation>> {
        validation::validate(self)
    }
}

/// The invented demo combi of the worked values: a combination oven with a pumped wash from a sump.
pub fn demo_combi() -> &'static Model {
    &DEMO_COMBI
}

/// An invented hood warewasher, a circuit of another shape: a flow regulator, a gravity drain, no
/// steam, no start-up call, no separate inlet strainer.
pub fn demo_warewasher() -> &'static Model {
    &DEMO_WAREWASHER
}

/// The models that every company has from the start.
pub fn built_in_models() -> [&'static Model; 2] {
    [demo_combi(), demo_warewasher()]
}

static DEMO_COMBI: LazyLock<Model> =
    LazyLock::new(|| built_in(include_str!("../data/models/demo_combi.json")));
static DEMO_WAREWASHER: LazyLock<Model> =
    LazyLock::new(|| built_in(include_str!("../data/models/demo_warewasher.json")));

#[expect(clippy::expect_used, reason = "the file is compiled in, and a test reads each of them")]
fn built_in(json: &str) -> Model {
    serde_json::from_str(json).expect("a built-in model is well-formed")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn built_in_models_hold_their_own_rules() {
        for model in built_in_models() {
            assert_eq!(model.validate(), Ok(()), "{}", model.key);
        }
    }

    #[test]
    fn the_demo_combi_is_the_one_of_the_worked_values() {
        let model = demo_combi();
        let fill = model.fill.as_ref().unwrap();
        // Series of flow coefficients, 1/Kv² = Σ 1/Kvᵢ² (IEC 60534-2-1); the worked table prints 0.4743.
        let kv = [
            fill.line_kv_m3_per_h,
            fill.inlet_strainer_kv_m3_per_h.unwrap(),
            fill.valve_strainer_kv_m3_per_h.unwrap(),
            fill.fill_valve_kv_m3_per_h,
        ];
        let total = kv.iter().map(|kv| kv.powi(-2)).sum::<f64>().powf(-0.5);
        assert!((total - 0.4743).abs() < 5e-5, "{total}");
        let flow = total * model.reference.static_pressure_bar.sqrt();
        let dynamic = model.reference.static_pressure_bar - (flow / fill.line_kv_m3_per_h).powi(2);
        assert!((dynamic - model.reference.dynamic_pressure_bar).abs() < 5e-4, "{dynamic}");
        let fill_time = model.sump.as_ref().unwrap().full_l / (flow / 3.6);
        let typical = model.typical_value(&Measurement::value("fill_time", "fill_time")).unwrap();
        assert!((typical.value - fill_time).abs() < 5e-3, "{fill_time}");
    }

    #[test]
    fn a_model_survives_its_own_json() {
        for model in built_in_models() {
            let json = serde_json::to_string(model).unwrap();
            assert_eq!(&serde_json::from_str::<Model>(&json).unwrap(), model);
        }
    }
}
