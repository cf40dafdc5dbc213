//! How a reading of the drafted machine stands to the same reading of the demo combi, of which the general
//! limits and spreads are known.

use super::Plate;
use crate::equipment::{Heater, HeaterWiring, Measurement, Model, WashStage, demo_combi};
use crate::procedure::built_in_procedures;

pub(super) struct Likeness<'a> {
    plate: &'a Plate,
    model: &'a Model,
}

/// The share of a fill's flow that a shorter or longer call brings, of its opening time.
fn flowing_s(model: &Model) -> Option<f64> {
    Some(model.start_up_call?.duration_s - model.fill?.opening_time_s)
}

impl<'a> Likeness<'a> {
    pub const fn new(plate: &'a Plate, model: &'a Model) -> Self {
        Self { plate, model }
    }

    pub const fn says_how_long_a_fill_may_take(&self) -> bool {
        self.plate.fill_allowed_s.is_some()
    }

    /// What the reading is on a sound machine over what it is on the demo combi; `None` where the machine has
    /// no such reading.
    pub fn ratio(&self, of: &Measurement) -> Option<f64> {
        let (plate, model, demo) = (self.plate, self.model, demo_combi());
        let full = || Some(model.sump?.full_l / demo.sump?.full_l);
        let of_demo = |typical: &Measurement| demo.typical_value(typical).map(|typical| typical.value);
        let over = |value: Option<f64>| Some(value? / of_demo(of)?);
        match (of.procedure.as_str(), of.step.as_str(), of.statistic) {
            ("fill_time", "fill_time", _) => over(plate.fill_time_s),
            ("start_up_catch", "caught", _) => {
                let flow = model.sump?.full_l / plate.fill_time_s?;
                over(flowing_s(model).map(|seconds| flow * seconds))
            }
            ("sump_holds", "filled", _)
            | ("wash_flow_hold", "level_before", _)
            | ("drain_time", "residue", _) => full(),
            ("wash_flow_hold", "hold_time", _) => Some(model.wash_pump?.run_s / demo.wash_pump?.run_s),
            ("wash_flow_hold", "motor_current", _) => over(model.wash_pump?.motor_current_a),
            ("wash_flow_hold", "strength", _) => Some(plate.wash_flow_l_per_min? / DEMO_WASH_FLOW),
            ("wash_flow_hold", "flow", Some(statistic)) => {
                use crate::equipment::SeriesStatistic::{FirstFall, FirstFlow, LastFifthShare};
                model.wash_pump?;
                match statistic {
                    FirstFlow => Some(plate.wash_flow_l_per_min? / DEMO_WASH_FLOW),
                    FirstFall => Some(model.wash_pump?.run_s / demo.wash_pump?.run_s),
                    LastFifthShare => Some(1.0),
                }
            }
            ("drain_time", "drain_time", _) => model.drain.and(over(plate.drain_time_s)),
            ("steam", "time_to_steam", _) => over(plate.steam_time_s),
            ("staged_heating" | "full_cycle", step, _) if step.starts_with("time_to_") => {
                let stage =
                    WashStage::ALL.into_iter().find(|of| step == format!("time_to_{}_stage", of.word()))?;
                Some(stage_s(model, stage)? / stage_s(demo, stage)?)
            }
            ("commanded_volts", ..) => Some(plate.supply_voltage_v / demo.reference.supply_voltage_v),
            ("dead_electrical", "run_capacitor", _) => Some(plate.capacitor_uf? / DEMO_CAPACITOR_UF),
            ("dead_electrical", "heater_element", _) => {
                Some(element_ohm(&model.heater?) / element_ohm(&demo.heater?))
            }
            ("chemical_delivery", "drawn", _) => Some(plate.dose_ml? / GENERAL_DOSE_ML),
            ("rinse_clear", "volume", _) => Some(plate.rinse_volume_l? / GENERAL_RINSE_L),
            ("inlet_pressure", ..) => model.fill.map(|_| 1.0),
            _ => Some(1.0),
        }
    }
}

/// L/min and µF of the demo combi.
const DEMO_WASH_FLOW: f64 = 30.0;
const DEMO_CAPACITOR_UF: f64 = 12.0;
/// mL and L of the demo warewasher, where alone they are measured.
const GENERAL_DOSE_ML: f64 = 60.0;
const GENERAL_RINSE_L: f64 = 3.0;

/// Whether a procedure of the service makes the measurement on this model.
pub(super) fn applies(model: &Model, of: &Measurement) -> bool {
    let procedure = built_in_procedures().iter().find(|procedure| procedure.key == of.procedure);
    procedure
        .filter(|procedure| procedure.applies_to(model))
        .is_some_and(|procedure| procedure.step(&of.step).is_some_and(|step| step.applies_to(model)))
}

/// To four figures: nobody means more by a drafted number.
pub(super) fn rounded(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let scale = 10.0_f64.powi(3 - value.abs().log10().floor() as i32);
    (value * scale).round() / scale
}

/// `C·ΔT/(P − P_loss)`.
fn stage_s(model: &Model, stage: WashStage) -> Option<f64> {
    let heater = model.heater?;
    let capacity = heater.metal_kg * heater.metal_heat_capacity_kj_per_kg_k
        + heater.water_kg * heater.water_heat_capacity_kj_per_kg_k;
    let net = f64::from(heater.elements) * heater.power_per_element_w - heater.loss_w;
    Some(1000.0 * capacity * (model.stage_cel(stage)? - model.reference.water_temperature_cel) / net)
}

/// `R = U²/P` of one element at the voltage that lies across it.
fn element_ohm(heater: &Heater) -> f64 {
    let across = match heater.wiring {
        HeaterWiring::StarWithNeutral | HeaterWiring::StarWithoutNeutral => {
            heater.rated_voltage_v / 3.0_f64.sqrt()
        }
        HeaterWiring::SinglePhase | HeaterWiring::Delta => heater.rated_voltage_v,
    };
    across * across / heater.power_per_element_w
}
