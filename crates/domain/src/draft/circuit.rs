//! From the plate to the circuit: the laws of [`crate::physics`] solved for what the plate does not say.

use super::Plate;
use crate::equipment::{
    Drain, FillCircuit, FlowRegulator, Heater, Model, ReferenceConditions, StartUpCall, Sump, WashPump,
    demo_combi,
};
use crate::violation::{Violation, Violations};
use crate::vocabulary::Position;

/// Proportions of the demo combi: flow coefficient of the supply line and of a clean strainer over that of the
/// whole fill, the drop at the tap's line being the square of the inverse.
const LINE_OF_WHOLE: f64 = 4.2;
const STRAINER_OF_WHOLE: f64 = 3.2;
/// How long controls wait for the mark, of the usual fill: the built-in models' are 2.8 and 3.1.
const ALLOWED_OF_FILL: f64 = 3.0;
/// What would flow without a regulator, of what it lets through.
const UNREGULATED_FLOW: f64 = 1.6;
/// Levels at which a pump starves and runs dry, of the full one.
const STARVING_OF_FULL: f64 = 0.35;
const DRY_OF_FULL: f64 = 0.1;
/// Share of the full vessel that is on its way back while the pump runs, and the longest way, s.
const UNDER_WAY_OF_FULL: f64 = 0.4;
const LONGEST_RETURN_S: f64 = 2.5;
/// A pump's head at no flow and what the sprays lift against, m; the share of its fall in pump and system.
const SHUT_OFF_HEAD_M: f64 = 8.0;
const STATIC_HEAD_M: f64 = 0.5;
const FALL_IN_PUMP: f64 = 8.0 / 30.0;
/// Share of the elements' power that is lost.
const LOST_OF_POWER: f64 = 1.0 / 15.0;
/// Of steel and of water, kJ/(kg K).
const STEEL: f64 = 0.5;
const WATER: f64 = 4.18;
/// Where a heating without stages is taken to end, °C.
const WITHOUT_STAGES_CEL: f64 = 95.0;
/// Depth of a vessel that drains by its own weight: full and as good as empty, m; its outlet's coefficient.
const HEAD_FULL_M: f64 = 0.16;
const HEAD_EMPTY_M: f64 = 0.02;
const DISCHARGE: f64 = 0.62;
const BUCKET_L: f64 = 8.0;

/// The model without its limits and typical values.
pub(super) fn model(plate: &Plate) -> Result<Model, Vec<Violation>> {
    let mut read = Reading { plate, violations: Violations::new() };
    read.within("/static_pressure_bar", plate.static_pressure_bar, 0.3, 10.0, "bar");
    read.within("/supply_voltage_v", plate.supply_voltage_v, 100.0, 480.0, "V");
    read.within("/water_temperature_cel", plate.water_temperature_cel, 1.0, 60.0, "°C");
    let vessel_l = read.vessel();
    let (fill, start_up_call) = read.fill(vessel_l);
    let wash_pump = read.wash_pump();
    let drain = read.drain(vessel_l);
    let heater = read.heater(vessel_l);
    if plate.positions.contains(&Position::SteamGenerator) {
        read.needed("/steam_time_s", plate.steam_time_s, Position::SteamGenerator, 5.0, 3600.0, "s");
    }
    if let Some(dose) = plate.dose_ml {
        read.within("/dose_ml", dose, 1.0, 1000.0, "mL");
    }
    if let Some(rinse) = plate.rinse_volume_l {
        read.within("/rinse_volume_l", rinse, 0.1, 100.0, "L");
    }
    if plate.positions.contains(&Position::RunCapacitor) {
        read.needed("/capacitor_uf", plate.capacitor_uf, Position::RunCapacitor, 1.0, 100.0, "µF");
    }
    let opened = if plate.regulator_from_bar.is_some() { UNREGULATED_FLOW } else { 1.0 };
    let dynamic = plate.static_pressure_bar * (1.0 - (opened * LINE_OF_WHOLE).powi(-2));
    let sump = vessel_l.map(|full_l| sump(full_l, plate.wash_flow_l_per_min));
    let model = Model {
        key: plate.key.clone(),
        version: 1,
        title: plate.title.clone(),
        positions: plate.positions.clone(),
        reference: ReferenceConditions {
            static_pressure_bar: plate.static_pressure_bar,
            dynamic_pressure_bar: dynamic,
            supply_voltage_v: plate.supply_voltage_v,
            water_temperature_cel: plate.water_temperature_cel,
        },
        fill,
        start_up_call,
        sump: sump.filter(|_| plate.positions.contains(&Position::Sump)),
        wash_pump,
        drain,
        heater,
        wash_stages_cel: plate.wash_stages_cel.clone(),
        highest_temperature_cel: plate.highest_temperature_cel,
        water_limits: demo_combi().water_limits,
        functional_limits: Vec::new(),
        typical_values: Vec::new(),
    };
    if let Err(of_model) = model.validate() {
        // What the draft works out follows from the plate; what is copied is at fault in both alike.
        let copied = ["/positions", "/wash_stages_cel", "/highest_temperature_cel"];
        for violation in of_model {
            if copied.iter().any(|field| violation.pointer.starts_with(field)) {
                read.violations.add(violation.pointer, violation.detail);
            }
        }
    }
    read.violations.finish()?;
    Ok(model)
}

struct Reading<'a> {
    plate: &'a Plate,
    violations: Violations,
}

impl Reading<'_> {
    fn has(&self, position: Position) -> bool {
        self.plate.positions.contains(&position)
    }

    fn within(&mut self, pointer: &str, value: f64, low: f64, high: f64, unit: &str) -> Option<f64> {
        let holds = value.is_finite() && (low..=high).contains(&value);
        let detail = format!("is {value} {unit}; a machine has from {low} to {high} {unit}");
        self.violations.require(holds, pointer, detail);
        holds.then_some(value)
    }

    fn needed(
        &mut self,
        pointer: &str,
        value: Option<f64>,
        by: Position,
        low: f64,
        high: f64,
        unit: &str,
    ) -> Option<f64> {
        let Some(value) = value else {
            let detail = format!(
                "is missing: the machine has a {by}; give it, from {low} to {high} {unit}, or leave {by} out"
            );
            self.violations.add(pointer, detail);
            return None;
        };
        self.within(pointer, value, low, high, unit)
    }

    fn vessel(&mut self) -> Option<f64> {
        let by =
            [Position::Sump, Position::WashPump, Position::DrainPump].into_iter().find(|of| self.has(*of))?;
        if by != Position::Sump {
            let detail = format!("must list sump: what the {by} draws from, whose volume is vessel_l");
            self.violations.add("/positions", detail);
        }
        self.needed("/vessel_l", self.plate.vessel_l, by, 0.3, 500.0, "L")
    }

    fn fill(&mut self, vessel_l: Option<f64>) -> (Option<FillCircuit>, Option<StartUpCall>) {
        if !self.has(Position::FillValve) {
            return (None, None);
        }
        let plate = self.plate;
        if !self.has(Position::Sump) {
            self.violations
                .add("/positions", "must list sump: what the fill_valve fills, whose volume is vessel_l");
        }
        let time = self.needed("/fill_time_s", plate.fill_time_s, Position::FillValve, 1.0, 1800.0, "s");
        let (Some(time), Some(litres)) = (time, vessel_l) else { return (None, None) };
        let flow = litres / time * 60.0;
        if !(0.3..=120.0).contains(&flow) {
            let (least, most) = (litres / 120.0 * 60.0, litres / 0.3 * 60.0);
            let detail = format!(
                "gives a flow of {flow:.1} L/min; {litres} L take from {least:.1} to {most:.0} s through a valve"
            );
            self.violations.add("/fill_time_s", detail);
            return (None, None);
        }
        let regulator = self.regulator(flow);
        let opened = regulator.map_or(1.0, |_| UNREGULATED_FLOW);
        let whole = opened * flow * 0.06 / plate.static_pressure_bar.sqrt();
        let strainer = |position| self.has(position).then_some(whole * STRAINER_OF_WHOLE);
        let (inlet, before_valve) = (strainer(Position::InletStrainer), strainer(Position::ValveStrainer));
        let strainers: f64 = [inlet, before_valve].into_iter().flatten().map(|kv| kv.powi(-2)).sum();
        let valve = (whole.powi(-2) - (whole * LINE_OF_WHOLE).powi(-2) - strainers).powf(-0.5);
        let opening_time_s = 0.3;
        let allowed_s = plate.fill_allowed_s.unwrap_or(ALLOWED_OF_FILL * time);
        let holds = allowed_s.is_finite() && allowed_s > time;
        let detail = format!("is {allowed_s} s; controls wait longer than the {time} s of a usual fill");
        self.violations.require(holds, "/fill_allowed_s", detail);
        let fill = FillCircuit {
            line_kv_m3_per_h: whole * LINE_OF_WHOLE,
            inlet_strainer_kv_m3_per_h: inlet,
            valve_strainer_kv_m3_per_h: before_valve,
            fill_valve_kv_m3_per_h: valve,
            fill_valve_pressure_recovery: 0.9,
            opening_time_s,
            allowed_s: Some(allowed_s),
            restrictor_kv_m3_per_h: None,
            regulator,
        };
        let call =
            plate.start_up_call_s.and_then(|call| self.within("/start_up_call_s", call, 1.0, 120.0, "s"));
        let call = call.map(|duration_s| {
            let caught = flow / 60.0 * (duration_s - opening_time_s);
            StartUpCall { duration_s, bucket_l: BUCKET_L.max(3.0 * caught) }
        });
        (Some(fill), call)
    }

    /// Wide open it may take no more of the pressure than the rest leaves.
    fn regulator(&mut self, flow_l_per_min: f64) -> Option<FlowRegulator> {
        let minimum_pressure_bar = self.plate.regulator_from_bar?;
        if !self.has(Position::FlowRestrictor) {
            let detail = "positions lists no flow_restrictor, which is where a regulator sits: add it, or leave this out";
            self.violations.add("/regulator_from_bar", detail);
            return None;
        }
        let most = self.plate.static_pressure_bar * (1.0 - UNREGULATED_FLOW.powi(-2));
        let holds = minimum_pressure_bar > 0.0 && minimum_pressure_bar <= most;
        let detail = format!(
            "is {minimum_pressure_bar} bar; at {} bar of the supply a regulator holds the flow if it needs more than 0 \
             and at most {most:.2} bar",
            self.plate.static_pressure_bar
        );
        self.violations.require(holds, "/regulator_from_bar", detail);
        holds.then_some(FlowRegulator { flow_l_per_min, minimum_pressure_bar })
    }

    fn wash_pump(&mut self) -> Option<WashPump> {
        if !self.has(Position::WashPump) {
            return None;
        }
        let (plate, by) = (self.plate, Position::WashPump);
        let flow = self.needed("/wash_flow_l_per_min", plate.wash_flow_l_per_min, by, 1.0, 1000.0, "L/min");
        let run_s = self.needed("/wash_run_s", plate.wash_run_s, by, 5.0, 600.0, "s");
        let current = self.needed("/motor_current_a", plate.motor_current_a, by, 0.1, 30.0, "A");
        let squared = (flow? / 60.0).powi(2);
        let fall = (SHUT_OFF_HEAD_M - STATIC_HEAD_M) / squared;
        Some(WashPump {
            shut_off_head_m: SHUT_OFF_HEAD_M,
            curve_m_per_l_per_s_squared: fall * FALL_IN_PUMP,
            system_static_head_m: STATIC_HEAD_M,
            system_curve_m_per_l_per_s_squared: fall * (1.0 - FALL_IN_PUMP),
            run_s: run_s?,
            motor_current_a: Some(current?),
        })
    }

    fn drain(&mut self, vessel_l: Option<f64>) -> Option<Drain> {
        let by = [Position::DrainPump, Position::DrainTrap].into_iter().find(|of| self.has(*of))?;
        let time = self.needed("/drain_time_s", self.plate.drain_time_s, by, 1.0, 1800.0, "s");
        let (time, litres) = (time?, vessel_l?);
        if by == Position::DrainPump {
            return Some(Drain::Pump { flow_l_per_s: litres / time });
        }
        let surface_m2 = litres / 1000.0 / (HEAD_FULL_M - HEAD_EMPTY_M);
        let fall = HEAD_FULL_M.sqrt() - HEAD_EMPTY_M.sqrt();
        let outlet_area_m2 = 2.0 * surface_m2 * fall / (DISCHARGE * (2.0 * 9.806_65_f64).sqrt() * time);
        if surface_m2 < 10.0 * outlet_area_m2 {
            let least = time * 10.0 * outlet_area_m2 / surface_m2;
            let detail =
                format!("is {time} s; by its own weight the vessel empties in no less than {least:.1} s");
            self.violations.add("/drain_time_s", detail);
            return None;
        }
        Some(Drain::Gravity {
            surface_m2,
            outlet_area_m2,
            discharge_coefficient: DISCHARGE,
            head_full_m: HEAD_FULL_M,
            head_empty_m: HEAD_EMPTY_M,
        })
    }

    fn heater(&mut self, vessel_l: Option<f64>) -> Option<Heater> {
        if !self.has(Position::Heater) {
            return None;
        }
        let plate = self.plate;
        let Some(of_plate) = plate.heater else {
            let detail = "is missing: the machine has a heater; give its elements, power, wiring, voltage and \
                          heating time, or leave heater out of positions";
            self.violations.add("/heater", detail);
            return None;
        };
        let elements = self.within("/heater/elements", f64::from(of_plate.elements), 1.0, 24.0, "elements");
        let power =
            self.within("/heater/power_per_element_w", of_plate.power_per_element_w, 50.0, 20_000.0, "W");
        let volts = self.within("/heater/rated_voltage_v", of_plate.rated_voltage_v, 100.0, 480.0, "V");
        let told =
            of_plate.heating_time_s.or(plate.steam_time_s.filter(|_| plate.wash_stages_cel.is_empty()));
        let time = self.needed("/heater/heating_time_s", told, Position::Heater, 5.0, 14_400.0, "s");
        let (whole, _, time) = (elements? * power?, volts?, time?);
        let hot = plate.wash_stages_cel.last().copied().unwrap_or(WITHOUT_STAGES_CEL);
        let rise = hot - plate.water_temperature_cel;
        if !rise.is_finite() || rise <= 0.0 {
            return None;
        }
        let loss_w = whole * LOST_OF_POWER;
        let water_kg = vessel_l.unwrap_or(0.0);
        let capacity = (whole - loss_w) * time / rise / 1000.0;
        let metal_kg = (capacity - water_kg * WATER) / STEEL;
        if metal_kg < 0.0 {
            let least = water_kg * WATER * 1000.0 * rise / (whole - loss_w);
            let detail = format!(
                "is {time} s; {whole} W heat {water_kg} L from {} to {hot} °C in no less than {least:.0} s",
                plate.water_temperature_cel
            );
            self.violations.add("/heater/heating_time_s", detail);
            return None;
        }
        Some(Heater {
            elements: of_plate.elements,
            power_per_element_w: of_plate.power_per_element_w,
            wiring: of_plate.wiring,
            rated_voltage_v: of_plate.rated_voltage_v,
            loss_w,
            metal_kg,
            metal_heat_capacity_kj_per_kg_k: STEEL,
            water_kg,
            water_heat_capacity_kj_per_kg_k: WATER,
        })
    }
}

fn sump(full_l: f64, wash_flow_l_per_min: Option<f64>) -> Sump {
    let flow = wash_flow_l_per_min.filter(|flow| flow.is_finite() && *flow > 0.0);
    let return_delay_s =
        flow.map_or(0.0, |flow| (UNDER_WAY_OF_FULL * full_l / (flow / 60.0)).min(LONGEST_RETURN_S));
    Sump {
        full_l,
        starving_l: full_l * STARVING_OF_FULL,
        dry_l: full_l * DRY_OF_FULL,
        return_delay_s,
        surface_m2: Some(full_l / 100.0),
    }
}
