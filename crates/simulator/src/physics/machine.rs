use std::collections::BTreeSet;
use std::sync::Arc;

use domain::equipment::{Measurement, Model, built_in_fault_catalogues};
use domain::vocabulary::Position;

use crate::defect::{Defect, Severities, remains};
use crate::limits::Limits;
use crate::random::Random;

/// The data of one model, as far as this physics uses it.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    pub key: &'static str,
    pub limits: Limits,
    pub positions: BTreeSet<Position>,
    /// Flow coefficients, m³/h.
    pub kv_line: f64,
    pub kv_inlet_strainer: Option<f64>,
    pub kv_valve_strainer: Option<f64>,
    pub kv_restrictor: Option<f64>,
    pub kv_fill_valve: f64,
    /// A flow regulator's setting, L/min.
    pub regulated_l_per_min: Option<f64>,
    pub open_s: f64,
    /// Sump: full, starving, dry, L; and the delay of the return, s.
    pub full_l: f64,
    pub starve_l: f64,
    pub dry_l: f64,
    pub return_s: f64,
    /// Pump: head at no flow, m, and its fall, m/(L/s)²; system likewise.
    pub pump_head_m: f64,
    pub pump_fall: f64,
    pub system_head_m: f64,
    pub system_loss: f64,
    pub drain: domain::equipment::Drain,
    /// Heat: number and power of elements, kW; what goes lost, kW; heat capacities, kJ/K.
    pub elements: u32,
    pub element_kw: f64,
    pub loss_kw: f64,
    pub steel_kj_per_k: f64,
    /// °C, rising.
    pub wash_stages_cel: Vec<f64>,
    pub voltage_v: f64,
    /// Longest time of a sound fill, s.
    pub fill_limit_s: f64,
    /// How long the controls let water run before they wash with what there is, s.
    pub patience_s: f64,
    pub sump_surface_m2: f64,
    pub call_s: f64,
    pub has_start_up_call: bool,
    pub run_s: f64,
    pub pump_current_a: f64,
    pub capacitor_uf: f64,
    pub coil_ohm: f64,
    pub winding_ohm: f64,
}

/// What a model must describe before this physics can run it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the simulator needs a model with {0}")]
pub struct Undescribed(&'static str);

impl Design {
    pub fn of(model: &'static Model) -> Result<Self, Undescribed> {
        let fill = model.fill.ok_or(Undescribed("a fill circuit"))?;
        let sump = model.sump.ok_or(Undescribed("a sump"))?;
        let pump = model.wash_pump.ok_or(Undescribed("a wash pump"))?;
        let drain = model.drain.ok_or(Undescribed("a drain"))?;
        let heater = model.heater.ok_or(Undescribed("a heater"))?;
        let limit = model.functional_limit(&Measurement::value("fill_time", "fill_time"));
        let fill_limit_s = limit.and_then(|limit| limit.upper).unwrap_or(20.0);
        Ok(Self {
            key: model.key.as_str(),
            limits: Limits::of(model),
            positions: model.positions.clone(),
            kv_line: fill.line_kv_m3_per_h,
            kv_inlet_strainer: fill.inlet_strainer_kv_m3_per_h,
            kv_valve_strainer: fill.valve_strainer_kv_m3_per_h,
            kv_restrictor: fill.restrictor_kv_m3_per_h,
            kv_fill_valve: fill.fill_valve_kv_m3_per_h,
            regulated_l_per_min: fill.regulator.map(|regulator| regulator.flow_l_per_min),
            open_s: fill.opening_time_s,
            full_l: sump.full_l,
            starve_l: sump.starving_l,
            dry_l: sump.dry_l,
            return_s: sump.return_delay_s,
            pump_head_m: pump.shut_off_head_m,
            pump_fall: pump.curve_m_per_l_per_s_squared,
            system_head_m: pump.system_static_head_m,
            system_loss: pump.system_curve_m_per_l_per_s_squared,
            drain,
            elements: heater.elements,
            element_kw: heater.power_per_element_w / 1000.0,
            loss_kw: heater.loss_w / 1000.0,
            steel_kj_per_k: heater.metal_kg * heater.metal_heat_capacity_kj_per_kg_k,
            wash_stages_cel: model.wash_stages_cel.clone(),
            voltage_v: model.reference.supply_voltage_v,
            fill_limit_s,
            patience_s: fill.allowed_s.unwrap_or(2.0 * fill_limit_s),
            sump_surface_m2: sump.surface_m2.unwrap_or(sump.full_l / 100.0),
            call_s: model.start_up_call.map_or(12.0, |call| call.duration_s),
            has_start_up_call: model.start_up_call.is_some(),
            run_s: pump.run_s,
            pump_current_a: pump.motor_current_a.unwrap_or(2.4),
            capacitor_uf: 12.5,
            coil_ohm: 3200.0,
            winding_ohm: 11.0,
        })
    }

    pub fn has(&self, position: Position) -> bool {
        position.is_external() || self.positions.contains(&position)
    }

    /// Where this model has what may be defective.
    pub fn place_of(&self, defect: Defect) -> Position {
        match defect.position() {
            Position::InletStrainer if !self.has(Position::InletStrainer) => Position::ValveStrainer,
            Position::DrainPump if !self.has(Position::DrainPump) => Position::DrainTrap,
            position => position,
        }
    }

    /// Under what name the catalogue of this model's faults knows it.
    pub fn fault_key(&self, defect: Defect) -> &'static str {
        match (defect, self.place_of(defect)) {
            (Defect::InletStrainerClogged, Position::ValveStrainer) => "valve_strainer_clogged",
            (Defect::DrainPumpClogged, Position::DrainTrap) => "drain_outlet_blocked",
            _ => defect.key(),
        }
    }

    /// The fault of the model's catalogue that it is, and its version, if there is such a catalogue.
    pub fn catalogued(&self, defect: Defect) -> Option<(&'static str, u32)> {
        let own = std::iter::once(crate::company::large_combi_faults());
        let catalogue = built_in_fault_catalogues()
            .into_iter()
            .chain(own)
            .find(|known| known.model.as_str() == self.key)?;
        let fault = catalogue.fault(self.fault_key(defect))?;
        (fault.position == self.place_of(defect)).then(|| (self.fault_key(defect), fault.version))
    }

    /// A strainer, of the inlet or else of the valve, is where dirt from the pipes stays; without a pump
    /// it is the outlet that clogs.
    pub fn may_have(&self, defect: Defect) -> bool {
        match defect {
            Defect::InletStrainerClogged => {
                self.has(Position::InletStrainer) || self.has(Position::ValveStrainer)
            }
            Defect::DrainPumpClogged => self.has(Position::DrainPump) || self.has(Position::DrainTrap),
            // where there is one mesh alone, or no pump, it is the defect above
            Defect::ValveStrainerClogged => {
                self.has(Position::InletStrainer) && self.has(Position::ValveStrainer)
            }
            Defect::DrainHoseBlocked => self.has(Position::DrainPump) && self.has(Position::DrainTrap),
            _ => self.has(defect.position()),
        }
    }
}

/// One unit: its design and how its making deviated from it, as factors.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    pub design: Arc<Design>,
    pub kv_fill_valve: f64,
    pub kv_line: f64,
    pub full: f64,
    pub head: f64,
    pub system_loss: f64,
    pub open: f64,
    pub power: f64,
    pub current: f64,
    pub ohms: f64,
    /// Which way a fouled level sensor errs: below 0 stops the fill early, above 0 late.
    pub level_error: f64,
    /// Which circuit bad wiring opens first: 0…1.
    pub weak_circuit: f64,
}

/// What the building and the day give.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surroundings {
    /// Gauge pressure at the head of the line without flow, at this hour.
    pub static_pressure_bar: f64,
    /// How much it moves within seconds, as a standard deviation.
    pub pressure_flutter_bar: f64,
    /// Supply voltage over the design's.
    pub voltage: f64,
    pub water_cel: f64,
    pub hardness_mg_per_l: f64,
    /// Boiling point at this altitude.
    pub boiling_cel: f64,
}

impl Machine {
    pub fn made(design: Arc<Design>, random: &mut Random) -> Self {
        Self {
            design,
            kv_fill_valve: random.factor(0.05),
            kv_line: random.factor(0.10),
            full: random.factor(0.02),
            head: random.factor(0.03),
            system_loss: random.factor(0.05),
            open: random.factor(0.10),
            power: random.factor(0.02),
            current: random.factor(0.04),
            ohms: random.factor(0.02),
            level_error: if random.chance(0.7) { -1.0 } else { 1.0 },
            weak_circuit: random.uniform(),
        }
    }

    /// A unit without any deviation, for tests against worked values.
    pub fn nominal(design: Arc<Design>) -> Self {
        Self {
            design,
            kv_fill_valve: 1.0,
            kv_line: 1.0,
            full: 1.0,
            head: 1.0,
            system_loss: 1.0,
            open: 1.0,
            power: 1.0,
            current: 1.0,
            ohms: 1.0,
            level_error: -1.0,
            weak_circuit: 0.5,
        }
    }

    /// A new part at the position of this defect deviates anew.
    pub fn renew(&mut self, defect: Defect, random: &mut Random) {
        match defect {
            Defect::FillValveWeak
            | Defect::FillValveCoilOpen
            | Defect::FillValvePasses
            | Defect::FillValveSticks => {
                self.kv_fill_valve = random.factor(0.05);
                self.open = random.factor(0.10);
            }
            Defect::WashPumpFades | Defect::WashPumpClogged | Defect::WashMotorDead => {
                self.head = random.factor(0.03);
                self.current = random.factor(0.04);
            }
            Defect::ElementOpen => self.power = random.factor(0.02),
            _ => {}
        }
    }

    pub fn full_l(&self) -> f64 {
        self.design.full_l * self.full
    }

    /// Where a fill that is stopped by the level sensor ends, L.
    pub fn stops_at_l(&self, severities: &Severities) -> f64 {
        // a dead sensor has the machine stop at once
        let error = self.level_error * (1.0 - remains(severities[Defect::LevelSensorFouled], 0.6));
        self.full_l() * (1.0 + if error > 0.0 { 0.4 * error } else { error })
    }
}

#[cfg(test)]
pub(crate) fn worked_design() -> Arc<Design> {
    Arc::new(Design::of(domain::equipment::demo_combi()).unwrap())
}

#[cfg(test)]
pub(crate) fn calm_surroundings(static_pressure_bar: f64) -> Surroundings {
    Surroundings {
        static_pressure_bar,
        pressure_flutter_bar: 0.0,
        voltage: 1.0,
        water_cel: 15.0,
        hardness_mg_per_l: 50.0,
        boiling_cel: 100.0,
    }
}
