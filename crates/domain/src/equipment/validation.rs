//! The rules that a company's own model must hold, all checked, none stopping the others.

use std::collections::BTreeSet;

use super::{Bounds, Drain, Model, WashStage};
use crate::quantity::QuantityKind;
use crate::violation::{Violation, Violations};
use crate::vocabulary::Position;

pub(super) fn validate(model: &Model) -> Result<(), Vec<Violation>> {
    let mut check = Check { violations: Violations::new(), model };
    check.violations.require(model.version > 0, "/version", "must be at least 1");
    check.positions();
    check.reference();
    check.fill();
    check.sump_and_pump();
    check.drain();
    check.heater();
    check.wash_stages();
    for (name, bounds) in model.water_limits.entries() {
        if let Some(bounds) = bounds {
            check.bounds(&format!("/water_limits/{name}"), bounds);
        }
    }
    check.limits();
    check.typical_values();
    check.violations.finish()
}

struct Check<'a> {
    violations: Violations,
    model: &'a Model,
}

impl Check<'_> {
    fn positive(&mut self, pointer: &str, value: f64) {
        let holds = value.is_finite() && value > 0.0;
        self.violations.require(holds, pointer, "must be a finite number greater than 0");
    }

    fn not_negative(&mut self, pointer: &str, value: f64) {
        let holds = value.is_finite() && value >= 0.0;
        self.violations.require(holds, pointer, "must be a finite number of at least 0");
    }

    fn needs(&mut self, pointer: &str, position: Position) {
        let detail = format!(
            "this model does not list the position {position}: add it to positions, or leave this out"
        );
        self.violations.require(self.model.has(position), pointer, detail);
    }

    fn positions(&mut self) {
        let model = self.model;
        self.violations.require(!model.positions.is_empty(), "/positions", "must list at least one position");
        for position in model.positions.iter().filter(|position| position.is_external()) {
            let detail = format!("{position} stands for the building or its people and belongs to no model");
            self.violations.add("/positions", detail);
        }
        let described = [
            (Position::FillValve, model.fill.is_some(), "fill"),
            (Position::Sump, model.sump.is_some(), "sump"),
            (Position::WashPump, model.wash_pump.is_some(), "wash_pump"),
            (Position::Heater, model.heater.is_some(), "heater"),
        ];
        for (position, is_described, field) in described {
            if model.has(position) && !is_described {
                self.violations
                    .add(format!("/{field}"), format!("is required, because the model has a {position}"));
            }
        }
    }

    fn reference(&mut self) {
        let reference = self.model.reference;
        self.positive("/reference/static_pressure_bar", reference.static_pressure_bar);
        self.positive("/reference/dynamic_pressure_bar", reference.dynamic_pressure_bar);
        self.positive("/reference/supply_voltage_v", reference.supply_voltage_v);
        let holds = (0.0..=100.0).contains(&reference.water_temperature_cel);
        self.violations.require(holds, "/reference/water_temperature_cel", "must be from 0 to 100");
        if reference.dynamic_pressure_bar > reference.static_pressure_bar {
            let detail = "must not exceed static_pressure_bar: pressure falls when water flows";
            self.violations.add("/reference/dynamic_pressure_bar", detail);
        }
    }

    fn fill(&mut self) {
        if let Some(fill) = self.model.fill {
            self.needs("/fill", Position::FillValve);
            self.positive("/fill/line_kv_m3_per_h", fill.line_kv_m3_per_h);
            self.positive("/fill/fill_valve_kv_m3_per_h", fill.fill_valve_kv_m3_per_h);
            self.not_negative("/fill/opening_time_s", fill.opening_time_s);
            if let Some(allowed) = fill.allowed_s {
                let holds = allowed.is_finite() && allowed > fill.opening_time_s;
                let detail = "must be longer than opening_time_s, or no water comes";
                self.violations.require(holds, "/fill/allowed_s", detail);
            }
            let recovery = fill.fill_valve_pressure_recovery;
            let holds = recovery > 0.0 && recovery <= 1.0;
            self.violations.require(
                holds,
                "/fill/fill_valve_pressure_recovery",
                "must be greater than 0 and at most 1",
            );
            let optional = [
                ("inlet_strainer_kv_m3_per_h", fill.inlet_strainer_kv_m3_per_h, Position::InletStrainer),
                ("valve_strainer_kv_m3_per_h", fill.valve_strainer_kv_m3_per_h, Position::ValveStrainer),
                ("restrictor_kv_m3_per_h", fill.restrictor_kv_m3_per_h, Position::FlowRestrictor),
            ];
            for (field, kv, position) in optional {
                let pointer = format!("/fill/{field}");
                if let Some(kv) = kv {
                    self.positive(&pointer, kv);
                    self.needs(&pointer, position);
                }
            }
            if let Some(regulator) = fill.regulator {
                self.positive("/fill/regulator/flow_l_per_min", regulator.flow_l_per_min);
                self.positive("/fill/regulator/minimum_pressure_bar", regulator.minimum_pressure_bar);
                self.needs("/fill/regulator", Position::FlowRestrictor);
            }
        }
        if let Some(call) = self.model.start_up_call {
            self.positive("/start_up_call/duration_s", call.duration_s);
            self.positive("/start_up_call/bucket_l", call.bucket_l);
            match self.model.fill {
                None => {
                    self.violations.add("/start_up_call", "a start-up call needs a fill circuit: give fill");
                }
                Some(fill) if fill.opening_time_s >= call.duration_s => {
                    let detail = "must be longer than fill.opening_time_s, or no water comes";
                    self.violations.add("/start_up_call/duration_s", detail);
                }
                Some(_) => {}
            }
        }
    }

    fn sump_and_pump(&mut self) {
        if let Some(sump) = self.model.sump {
            self.needs("/sump", Position::Sump);
            self.positive("/sump/full_l", sump.full_l);
            self.not_negative("/sump/dry_l", sump.dry_l);
            self.not_negative("/sump/return_delay_s", sump.return_delay_s);
            if let Some(surface) = sump.surface_m2 {
                self.positive("/sump/surface_m2", surface);
            }
            let ordered = sump.dry_l < sump.starving_l && sump.starving_l < sump.full_l;
            self.violations.require(ordered, "/sump/starving_l", "must lie between dry_l and full_l");
        }
        if let Some(pump) = self.model.wash_pump {
            self.needs("/wash_pump", Position::WashPump);
            self.positive("/wash_pump/curve_m_per_l_per_s_squared", pump.curve_m_per_l_per_s_squared);
            self.positive(
                "/wash_pump/system_curve_m_per_l_per_s_squared",
                pump.system_curve_m_per_l_per_s_squared,
            );
            self.not_negative("/wash_pump/system_static_head_m", pump.system_static_head_m);
            self.positive("/wash_pump/run_s", pump.run_s);
            if let Some(current) = pump.motor_current_a {
                self.positive("/wash_pump/motor_current_a", current);
            }
            let lifts = pump.shut_off_head_m.is_finite() && pump.shut_off_head_m > pump.system_static_head_m;
            let detail =
                "must be a finite number greater than system_static_head_m, or the pump moves nothing";
            self.violations.require(lifts, "/wash_pump/shut_off_head_m", detail);
        }
    }

    fn drain(&mut self) {
        match self.model.drain {
            None => {}
            Some(Drain::Pump { flow_l_per_s }) => {
                self.needs("/drain", Position::DrainPump);
                self.positive("/drain/flow_l_per_s", flow_l_per_s);
            }
            Some(Drain::Gravity {
                surface_m2,
                outlet_area_m2,
                discharge_coefficient,
                head_full_m,
                head_empty_m,
            }) => {
                self.positive("/drain/outlet_area_m2", outlet_area_m2);
                self.not_negative("/drain/head_empty_m", head_empty_m);
                let coefficient = discharge_coefficient > 0.0 && discharge_coefficient <= 1.0;
                let detail = "must be greater than 0 and at most 1";
                self.violations.require(coefficient, "/drain/discharge_coefficient", detail);
                let large = surface_m2.is_finite() && surface_m2 >= 10.0 * outlet_area_m2;
                let detail = "must be at least ten times outlet_area_m2, or the formula for the drain time does not hold";
                self.violations.require(large, "/drain/surface_m2", detail);
                let falls = head_full_m.is_finite() && head_full_m > head_empty_m;
                self.violations.require(falls, "/drain/head_full_m", "must be greater than head_empty_m");
            }
        }
    }

    fn heater(&mut self) {
        let Some(heater) = self.model.heater else { return };
        self.needs("/heater", Position::Heater);
        self.violations.require(heater.elements > 0, "/heater/elements", "must be at least 1");
        self.positive("/heater/power_per_element_w", heater.power_per_element_w);
        self.positive("/heater/rated_voltage_v", heater.rated_voltage_v);
        self.not_negative("/heater/metal_kg", heater.metal_kg);
        self.positive("/heater/metal_heat_capacity_kj_per_kg_k", heater.metal_heat_capacity_kj_per_kg_k);
        self.not_negative("/heater/water_kg", heater.water_kg);
        self.positive("/heater/water_heat_capacity_kj_per_kg_k", heater.water_heat_capacity_kj_per_kg_k);
        let heats = heater.metal_kg + heater.water_kg > 0.0;
        self.violations.require(heats, "/heater/water_kg", "metal_kg and water_kg must not both be 0");
        let power = f64::from(heater.elements) * heater.power_per_element_w;
        let holds = (0.0..power).contains(&heater.loss_w);
        self.violations.require(
            holds,
            "/heater/loss_w",
            "must be at least 0 and less than the elements' power",
        );
    }

    fn wash_stages(&mut self) {
        let model = self.model;
        let stages = &model.wash_stages_cel;
        if !stages.is_empty() {
            self.needs("/wash_stages_cel", Position::Heater);
        }
        let most = WashStage::ALL.len();
        let detail = format!("has {} stages; a model has at most {most}", stages.len());
        self.violations.require(stages.len() <= most, "/wash_stages_cel", detail);
        let mut before = model.reference.water_temperature_cel;
        let mut hotter_than = "reference.water_temperature_cel";
        for (index, stage) in stages.iter().enumerate() {
            let pointer = format!("/wash_stages_cel/{index}");
            let possible = (0.0..=100.0).contains(stage);
            let detail = "must be from 0 to 100 °C: water washes, and it boils above";
            self.violations.require(possible, &pointer, detail);
            if possible && *stage <= before {
                let detail = format!("must be greater than {hotter_than}, {before} °C: stages rise");
                self.violations.add(&pointer, detail);
            }
            if possible {
                (before, hotter_than) = (*stage, "the stage before");
            }
        }
        if let Some(highest) = model.highest_temperature_cel {
            let pointer = "/highest_temperature_cel";
            let possible = highest.is_finite() && (0.0..=400.0).contains(&highest);
            self.violations.require(possible, pointer, "must be from 0 to 400 °C");
            let hottest = stages.iter().copied().filter(|stage| stage.is_finite()).fold(0.0, f64::max);
            let detail = format!("must be at least the hottest wash stage, {hottest} °C");
            self.violations.require(!possible || highest >= hottest, pointer, detail);
        }
    }

    fn bounds(&mut self, pointer: &str, bounds: Bounds) {
        self.violations.require(!bounds.is_open(), pointer, "must have lower, upper or both");
        let finite = [bounds.lower, bounds.upper].into_iter().flatten().all(f64::is_finite);
        self.violations.require(finite, pointer, "lower and upper must be finite numbers");
        if let (Some(lower), Some(upper)) = (bounds.lower, bounds.upper) {
            self.violations.require(lower < upper, pointer, "lower must be less than upper");
        }
    }

    fn unit(&mut self, pointer: &str, quantity: QuantityKind, values: [Option<f64>; 3], unit: &str) {
        for value in values.into_iter().flatten() {
            if let Err(error) = quantity.to_canonical(value, unit) {
                self.violations.add(pointer, error.to_string());
                return;
            }
        }
    }

    fn limits(&mut self) {
        let mut seen = BTreeSet::new();
        for (index, limit) in self.model.functional_limits.iter().enumerate() {
            let pointer = format!("/functional_limits/{index}");
            self.bounds(&pointer, Bounds { lower: limit.lower, upper: limit.upper });
            self.unit(&pointer, limit.quantity, [limit.lower, limit.upper, None], &limit.unit);
            let is_new = seen.insert(&limit.of);
            self.violations.require(
                is_new,
                format!("{pointer}/of"),
                "this measurement has a limit already: keep one",
            );
        }
    }

    fn typical_values(&mut self) {
        let mut seen = BTreeSet::new();
        for (index, typical) in self.model.typical_values.iter().enumerate() {
            let pointer = format!("/typical_values/{index}");
            let bounds = Bounds { lower: typical.lower, upper: typical.upper };
            if !bounds.is_open() {
                self.bounds(&pointer, bounds);
            }
            self.unit(
                &pointer,
                typical.quantity,
                [Some(typical.value), typical.lower, typical.upper],
                &typical.unit,
            );
            self.violations.require(
                bounds.contains(typical.value),
                &pointer,
                "value must lie between lower and upper",
            );
            let is_new = seen.insert(&typical.of);
            let detail = "this measurement has a typical value already: keep one";
            self.violations.require(is_new, format!("{pointer}/of"), detail);
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::equipment::{FunctionalLimit, Measurement, demo_combi};
    use crate::quantity::QuantityKind;
    use crate::vocabulary::Position;

    #[test]
    fn all_violations_are_named_at_once() {
        let mut model = demo_combi().clone();
        model.version = 0;
        model.fill.as_mut().unwrap().fill_valve_kv_m3_per_h = f64::NAN;
        model.fill.as_mut().unwrap().fill_valve_pressure_recovery = 1.5;
        model.sump.as_mut().unwrap().starving_l = 9.0;
        model.wash_pump.as_mut().unwrap().shut_off_head_m = 0.2;
        model.heater.as_mut().unwrap().loss_w = 9000.0;
        model.positions.insert(Position::SitePressure);
        model.positions.remove(&Position::DrainPump);
        model.functional_limits = vec![
            FunctionalLimit {
                of: Measurement::value("fill_time", "fill_time"),
                quantity: QuantityKind::Duration,
                lower: None,
                upper: Some(20.0),
                unit: "bar".into(),
            };
            2
        ];
        let violations = model.validate().unwrap_err();
        let mut pointers: Vec<_> = violations.iter().map(|violation| violation.pointer.as_str()).collect();
        pointers.sort_unstable();
        assert_eq!(
            pointers,
            [
                "/drain",
                "/fill/fill_valve_kv_m3_per_h",
                "/fill/fill_valve_pressure_recovery",
                "/functional_limits/0",
                "/functional_limits/1",
                "/functional_limits/1/of",
                "/heater/loss_w",
                "/positions",
                "/sump/starving_l",
                "/version",
                "/wash_pump/shut_off_head_m",
            ]
        );
        let unit = violations.iter().find(|violation| violation.pointer == "/functional_limits/0").unwrap();
        assert!(unit.detail.contains("s, ms, min"), "{}", unit.detail);
    }

    #[test]
    fn stages_rise_between_cold_water_and_boiling() {
        for (stages, highest, pointers) in [
            (vec![50.0, 65.0, 85.0], Some(85.0), vec![]),
            (vec![], None, vec![]),
            (vec![65.0, 50.0, 85.0], Some(85.0), vec!["/wash_stages_cel/1"]),
            (vec![10.0], None, vec!["/wash_stages_cel/0"]),
            (vec![50.0, 50.0], None, vec!["/wash_stages_cel/1"]),
            (vec![50.0, 101.0], Some(150.0), vec!["/wash_stages_cel/1"]),
            (vec![f64::NAN], Some(f64::NAN), vec!["/wash_stages_cel/0", "/highest_temperature_cel"]),
            (vec![50.0, 85.0], Some(80.0), vec!["/highest_temperature_cel"]),
            (vec![30.0, 40.0, 50.0, 60.0], None, vec!["/wash_stages_cel"]),
        ] {
            let mut model = demo_combi().clone();
            (model.wash_stages_cel, model.highest_temperature_cel) = (stages.clone(), highest);
            let violations = model.validate().err().unwrap_or_default();
            let found: Vec<_> = violations.iter().map(|violation| violation.pointer.as_str()).collect();
            assert_eq!(found, pointers, "{stages:?} {highest:?}");
        }
    }

    #[test]
    fn stages_need_a_heater() {
        let mut model = demo_combi().clone();
        model.heater = None;
        model.positions.remove(&Position::Heater);
        let violations = model.validate().unwrap_err();
        assert_eq!(violations[0].pointer, "/wash_stages_cel");
    }

    #[test]
    fn a_position_without_its_data_is_named() {
        let mut model = demo_combi().clone();
        model.heater = None;
        let violations = model.validate().unwrap_err();
        assert_eq!(violations[0].pointer, "/heater");
    }
}
