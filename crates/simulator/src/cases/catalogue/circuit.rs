//! What the catalogue's model predicts: the square law of flow, pump against system, the balance of the
//! sump in small steps, constant heat loss. Written from the formulas, apart from the predictor.

use domain::equipment::{
    Drain, FillCircuit, Heater, HeaterWiring, Model, Parameter, Reads, Subsystem, Sump, WashPump,
};

/// Everything that predictions depend on, after faults and spreads.
#[derive(Debug, Clone)]
pub struct State {
    pub parameters: [f64; Parameter::COUNT],
    /// Measured values with a sound value of their own, by index into the catalogue's measurements.
    pub own: Vec<f64>,
    /// Static pressure of the site, bar, and its voltage over the nominal.
    pub pressure_bar: f64,
    pub voltage: f64,
    /// Water in the sump when the wash run begins, L.
    pub level_l: f64,
    /// How long the controls wait for the mark, over what its model says.
    pub allowed: f64,
}

impl State {
    pub fn get(&self, parameter: Parameter) -> f64 {
        self.parameters[parameter as usize]
    }

    pub fn is_on(&self, parameter: Parameter) -> bool {
        self.get(parameter) > 0.5
    }
}

pub struct Circuit<'a> {
    model: &'a Model,
    fill: FillCircuit,
    pub sump: Sump,
    pump: WashPump,
    drain: Drain,
    heater: Heater,
}

/// Atmospheric and vapour pressure (15 °C) and the critical pressure of water, bar.
const ATMOSPHERE: f64 = 1.01325;
const VAPOUR: f64 = 0.017_06;
const CRITICAL: f64 = 220.64;
/// A fading pump usually has its full head for about two seconds (common practice, no source).
const FADES_AFTER_S: f64 = 2.0;
/// Slip of a small induction motor, and the share of current that it draws unloaded: conventions of the
/// catalogue's model.
const SLIP: f64 = 0.05;
const IDLE: f64 = 0.6;

impl<'a> Circuit<'a> {
    pub fn new(model: &'a Model) -> Option<Self> {
        Some(Self {
            model,
            fill: model.fill?,
            sump: model.sump?,
            pump: model.wash_pump?,
            drain: model.drain?,
            heater: model.heater?,
        })
    }

    pub fn run_s(&self) -> f64 {
        self.pump.run_s
    }

    /// Predicted reading in its canonical unit; infinite for what never comes to an end.
    pub fn predict(&self, reads: &Reads, measurement: usize, state: &State) -> f64 {
        match reads {
            Reads::StaticPressure => state.pressure_bar,
            Reads::DynamicPressure => state.pressure_bar - self.line_drop(state, self.flow(state)),
            Reads::PressureAfterStrainer => {
                let flow = self.flow(state);
                let strainer = self
                    .fill
                    .inlet_strainer_kv_m3_per_h
                    .map_or(0.0, |kv| (flow / (kv * state.get(Parameter::InletStrainerKv))).powi(2));
                state.pressure_bar - self.line_drop(state, flow) - strainer
            }
            Reads::FillTime => self.sump.full_l / (self.flow(state) / 3.6),
            Reads::CaughtVolume => {
                let call = self.model.start_up_call.map_or(0.0, |call| call.duration_s);
                self.flow(state) / 3.6 * (call - self.fill.opening_time_s)
            }
            Reads::FilledVolume => self.filled_l(state),
            Reads::FirstFlow => self.wash_flows(state).0 * 60.0,
            Reads::FirstFall => self.run(state).0,
            Reads::LastFifthShare => 100.0 * self.run(state).1,
            Reads::MotorCurrent => self.current(state),
            Reads::DrainTime => self.drain_s() / state.get(Parameter::DrainFlow),
            Reads::HeatingTime { stage } => {
                let rise = |cel: f64| cel - self.model.reference.water_temperature_cel;
                let hottest = self.model.wash_stages_cel.iter().copied().fold(0.0, f64::max);
                let cut_out = hottest * state.get(Parameter::HeatCeiling);
                let below = self.model.stage_cel(*stage).filter(|cel| *cel <= cut_out);
                below.map_or(f64::INFINITY, |cel| self.heating_s(rise(cel), state))
            }
            Reads::SiteVoltage => self.model.reference.supply_voltage_v * state.voltage,
            Reads::Own { subsystem, unpowered: Some(unpowered), .. } if !Self::reaches(*subsystem, state) => {
                *unpowered
            }
            Reads::Own { .. } => state.own[measurement],
        }
    }

    pub fn water_comes(state: &State) -> bool {
        state.is_on(Parameter::FillOutput) && state.is_on(Parameter::FillValveOpens)
    }

    /// What stands in the sump after the machine has filled it, L: to where its sensor says full, or what has come
    /// when the controls give up.
    pub fn filled_l(&self, state: &State) -> f64 {
        self.up_to_the_sensor(state, self.came(state))
    }

    /// Water that came before the mark or the controls ended the fill, over the full volume.
    pub fn came(&self, state: &State) -> f64 {
        self.came_of(self.flow(state), state)
    }

    /// The same of a flow that is known already, m³/h.
    pub fn came_of(&self, flow: f64, state: &State) -> f64 {
        let litres = |allowed: f64| flow / 3.6 * (allowed - self.fill.opening_time_s);
        match self.fill.allowed_s {
            _ if !Self::water_comes(state) => 0.0,
            Some(allowed) => (litres(allowed * state.allowed) / self.sump.full_l).clamp(0.0, 1.0),
            None => 1.0,
        }
    }

    /// The level in L when such a share of the full volume came.
    pub fn up_to_the_sensor(&self, state: &State, came: f64) -> f64 {
        let sensor = state.get(Parameter::FilledVolume);
        self.sump.full_l * if came < 1.0 { sensor.min(came) } else { sensor }
    }

    fn line_drop(&self, state: &State, flow: f64) -> f64 {
        (flow / (self.fill.line_kv_m3_per_h * state.get(Parameter::LineKv))).powi(2)
    }

    /// m³/h through line, strainers and valve; at most what chokes the valve (IEC 60534-2-1) or what the
    /// regulator lets through.
    pub fn flow(&self, state: &State) -> f64 {
        if !Self::water_comes(state) {
            return 0.0;
        }
        let fill = &self.fill;
        let inverse_square = |kv: f64| 1.0 / (kv * kv);
        let optional =
            |kv: Option<f64>, parameter| kv.map_or(0.0, |kv| inverse_square(kv * state.get(parameter)));
        let before_valve = inverse_square(fill.line_kv_m3_per_h * state.get(Parameter::LineKv))
            + optional(fill.inlet_strainer_kv_m3_per_h, Parameter::InletStrainerKv)
            + optional(fill.valve_strainer_kv_m3_per_h, Parameter::ValveStrainerKv);
        let valve_kv = fill.fill_valve_kv_m3_per_h * state.get(Parameter::FillValveKv);
        let after_valve = fill.restrictor_kv_m3_per_h.map_or(0.0, inverse_square);
        let pressure = state.pressure_bar.max(0.0);
        let free = libm::sqrt(pressure / (before_valve + inverse_square(valve_kv) + after_valve));
        // choked: Q = Kv·F_L·sqrt(p₁ − F_F·p_v), p₁ absolute at the valve
        let critical = 0.96 - 0.28 * libm::sqrt(VAPOUR / CRITICAL);
        let choking = (valve_kv * fill.fill_valve_pressure_recovery).powi(2);
        let head = pressure + ATMOSPHERE - critical * VAPOUR;
        let choked = libm::sqrt(choking * head / (1.0 + choking * before_valve));
        let regulated = fill.regulator.map_or(f64::INFINITY, |regulator| regulator.flow_l_per_min * 0.06);
        free.min(choked).min(regulated)
    }

    fn pump_flow(&self, head: f64, system: f64) -> f64 {
        let lift = head * self.pump.shut_off_head_m - self.pump.system_static_head_m;
        let resistance =
            self.pump.curve_m_per_l_per_s_squared + system * self.pump.system_curve_m_per_l_per_s_squared;
        libm::sqrt(lift.max(0.0) / resistance)
    }

    /// Whether the controls reach what a subsystem drives.
    fn reaches(subsystem: Subsystem, state: &State) -> bool {
        match subsystem {
            Subsystem::Fill => state.is_on(Parameter::FillOutput),
            Subsystem::Wash => Self::powered(state),
            Subsystem::Heat => state.is_on(Parameter::HeatOutput),
            _ => true,
        }
    }

    pub fn powered(state: &State) -> bool {
        state.is_on(Parameter::WashOutput) && state.is_on(Parameter::DoorMade)
    }

    /// L/s at the start and after the pump has faded.
    pub fn wash_flows(&self, state: &State) -> (f64, f64) {
        if !Self::powered(state) || !state.is_on(Parameter::MotorTurns) {
            return (0.0, 0.0);
        }
        let speed = (1.0 - SLIP / (state.voltage * state.voltage)).max(0.0) / (1.0 - SLIP);
        let head = state.get(Parameter::PumpHead) * speed * speed;
        let system = state.get(Parameter::SystemCurve);
        (self.pump_flow(head, system), self.pump_flow(head * state.get(Parameter::FadedHead), system))
    }

    fn current(&self, state: &State) -> f64 {
        if !Self::powered(state) {
            return 0.0;
        }
        let full = self.pump.motor_current_a.unwrap_or(0.0) * state.get(Parameter::MotorCurrent);
        if !state.is_on(Parameter::MotorTurns) {
            return full;
        }
        let load = (self.wash_flows(state).0 / self.pump_flow(1.0, 1.0)).min(1.5);
        full * (IDLE + (1.0 - IDLE) * load)
    }

    fn run(&self, state: &State) -> (f64, f64) {
        let (first, faded) = self.wash_flows(state);
        self.wash_run(first, faded, Self::fades_after_s(state), state.get(Parameter::DoorLeak), state.level_l)
    }

    /// When a pump that fades does so.
    pub fn fades_after_s(state: &State) -> f64 {
        FADES_AFTER_S * state.get(Parameter::FadesAfter)
    }

    /// First fall below nine tenths of the start, s (infinite if it holds), and the share of the first
    /// flow in the last fifth: `dV/dt = −Q(V) + (1 − ℓ)·Q(t − τ)` in steps of a hundredth of a second.
    /// Flows in L/s, at the start and after the fade, and when it fades; the level at the start in L.
    pub fn wash_run(&self, first: f64, faded: f64, fades_s: f64, leak: f64, level_l: f64) -> (f64, f64) {
        const STEP: f64 = 0.01;
        let sump = &self.sump;
        let submerged =
            |volume: f64| ((volume - sump.dry_l) / (sump.starving_l - sump.dry_l)).clamp(0.0, 1.0);
        let start = first * submerged(level_l);
        if start <= 0.0 {
            return (0.0, 0.0);
        }
        let delay = (sump.return_delay_s / STEP).round() as usize;
        let mut in_the_air = vec![0.0; delay.max(1)];
        let steps = (self.pump.run_s / STEP).round() as usize;
        let (mut volume, mut fall, mut late, mut late_steps) = (level_l, f64::INFINITY, 0.0, 0.0);
        for step in 0..steps {
            let time = step as f64 * STEP;
            let full = if time < fades_s { first } else { faded };
            let slot = step % in_the_air.len();
            let back = if delay == 0 { 0.0 } else { in_the_air[slot] };
            // the middle of the step decides the flow, so that the error falls with its square
            let half = volume + 0.5 * STEP * ((1.0 - leak) * back - full * submerged(volume));
            let flow = full * submerged(half);
            in_the_air[slot] = flow;
            volume = (volume + STEP * ((1.0 - leak) * back - flow)).max(0.0);
            if fall.is_infinite() && flow < 0.9 * start {
                fall = time;
            }
            if time >= 0.8 * self.pump.run_s {
                late += flow;
                late_steps += 1.0;
            }
        }
        (fall, late / f64::max(late_steps, 1.0) / start)
    }

    fn drain_s(&self) -> f64 {
        match self.drain {
            Drain::Pump { flow_l_per_s } => self.sump.full_l / flow_l_per_s,
            Drain::Gravity {
                surface_m2,
                outlet_area_m2,
                discharge_coefficient,
                head_full_m,
                head_empty_m,
            } => {
                let outlet = discharge_coefficient * outlet_area_m2 * libm::sqrt(2.0 * 9.806_65);
                2.0 * surface_m2 / outlet * (libm::sqrt(head_full_m) - libm::sqrt(head_empty_m))
            }
        }
    }

    /// `C·ΔT/(P − P_loss)`, P with the square of the voltage.
    fn heating_s(&self, rise: f64, state: &State) -> f64 {
        let heater = &self.heater;
        let elements = f64::from(heater.elements.max(1));
        let of_one = match heater.wiring {
            HeaterWiring::StarWithoutNeutral if heater.elements == 3 => 0.5,
            _ => 1.0 / elements,
        };
        let open = state.get(Parameter::OpenElements).max(0.0).floor();
        let share = (1.0 - open * of_one).max(0.0) * state.get(Parameter::HeatingPower);
        let power =
            elements * heater.power_per_element_w * share * state.voltage * state.voltage - heater.loss_w;
        let capacity = heater.metal_kg * heater.metal_heat_capacity_kj_per_kg_k
            + heater.water_kg * heater.water_heat_capacity_kj_per_kg_k;
        if power > 0.0 && state.is_on(Parameter::HeatOutput) {
            1000.0 * capacity * rise / power
        } else {
            f64::INFINITY
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::equipment::{WashStage, demo_combi};

    fn sound() -> State {
        let mut parameters = [1.0; Parameter::COUNT];
        parameters[Parameter::OpenElements as usize] = 0.0;
        parameters[Parameter::DoorLeak as usize] = 0.0;
        State { parameters, own: Vec::new(), pressure_bar: 3.0, voltage: 1.0, level_l: 2.9, allowed: 1.0 }
    }

    fn with(parameter: Parameter, value: f64) -> State {
        let mut state = sound();
        state.parameters[parameter as usize] = value;
        state
    }

    fn check(reads: &Reads, state: &State, expected: f64, within: f64) {
        let predicted = Circuit::new(demo_combi()).unwrap().predict(reads, 0, state);
        assert!((predicted - expected).abs() <= within, "{reads:?} {predicted} instead of {expected}");
    }

    /// The demo combi's worked tables: fill, catch, dynamic pressure; from independent integrators.
    #[test]
    fn fills_are_those_of_the_worked_table() {
        for (state, seconds, dynamic, caught) in [
            (sound(), 12.71, 2.831, 2.670),
            (State { pressure_bar: 1.5, ..sound() }, 17.97, 1.416, 1.888),
            (State { pressure_bar: 1.0, ..sound() }, 22.01, 0.944, 1.542),
            (with(Parameter::FillValveKv, 0.35), 31.97, 2.973, 1.061),
            (with(Parameter::InletStrainerKv, 0.15), 29.38, 2.968, 1.155),
        ] {
            check(&Reads::FillTime, &state, seconds, 0.006);
            check(&Reads::DynamicPressure, &state, dynamic, 0.0006);
            check(&Reads::CaughtVolume, &state, caught, 0.0006);
        }
    }

    /// The worked wash runs of 60 s.
    #[test]
    fn wash_runs_are_those_of_the_worked_table() {
        for (state, flow, fall, share) in [
            (sound(), 30.0, f64::INFINITY, 1.0),
            (State { level_l: 1.6, ..sound() }, 30.0, 1.348, 0.6667),
            (State { level_l: 2.0, ..sound() }, 30.0, 2.148, 0.8718),
            (with(Parameter::DoorLeak, 0.05), 30.0, 35.745, 0.7092),
            (with(Parameter::SystemCurve, 4.0), 16.77, f64::INFINITY, 1.0),
            (with(Parameter::PumpHead, 0.6), 22.72, f64::INFINITY, 1.0),
            (with(Parameter::FadedHead, 0.35), 30.0, 2.0, 0.5538),
        ] {
            check(&Reads::FirstFlow, &state, flow, 0.006);
            check(&Reads::LastFifthShare, &state, 100.0 * share, 0.05);
            let predicted = Circuit::new(demo_combi()).unwrap().predict(&Reads::FirstFall, 0, &state);
            assert!(
                predicted.is_infinite() && fall.is_infinite() || (predicted - fall).abs() < 0.02,
                "{predicted} instead of {fall}"
            );
        }
    }

    /// The valve of 0.35 of its flow coefficient fills 2.9 L in 31.97 s (the worked table): in 19.7 s after it has
    /// opened 1.787 L came, and the sensor has no part in it unless it ends the fill before.
    #[test]
    fn controls_that_give_up_wash_with_what_came() {
        let mut model = demo_combi().clone();
        model.fill.as_mut().unwrap().allowed_s = Some(20.0);
        let circuit = Circuit::new(&model).unwrap();
        let mut slow = with(Parameter::FillValveKv, 0.35);
        assert!((circuit.filled_l(&slow) - 2.9 * 19.7 / 31.97).abs() < 1e-3);
        slow.parameters[Parameter::FilledVolume as usize] = 0.3;
        assert!((circuit.filled_l(&slow) - 0.3 * 2.9).abs() < 1e-12);
        assert!((circuit.filled_l(&sound()) - 2.9).abs() < 1e-12);
    }

    /// A pump that keeps its head for 20 s is seen to fall then, unless the sump is empty before: 1.6 L starve it after
    /// 1.348 s (the worked table).
    #[test]
    fn a_pump_fades_when_it_does() {
        let mut late = with(Parameter::FadedHead, 0.35);
        late.parameters[Parameter::FadesAfter as usize] = 10.0;
        check(&Reads::FirstFall, &late, 20.0, 0.02);
        check(&Reads::LastFifthShare, &late, 55.38, 0.5);
        check(&Reads::FirstFall, &State { level_l: 1.6, ..late }, 1.348, 0.02);
    }

    /// Heating from 15 to 92 °C with constant loss: 271.5, 422.4 and 340.9 s.
    #[test]
    fn heating_is_that_of_the_worked_values() {
        let mut model = demo_combi().clone();
        model.wash_stages_cel = vec![92.0];
        let circuit = Circuit::new(&model).unwrap();
        let reads = Reads::HeatingTime { stage: WashStage::First };
        for (state, expected) in [
            (sound(), 271.5),
            (with(Parameter::OpenElements, 1.0), 422.4),
            (State { voltage: 0.9, ..sound() }, 340.9),
        ] {
            let seconds = circuit.predict(&reads, 0, &state);
            assert!((seconds - expected).abs() < 0.05, "{seconds} instead of {expected}");
        }
    }

    /// A cut-out that opens at 0.8 of 85 °C lets a heating reach 50 and 65 °C, and never 85.
    #[test]
    fn nothing_is_heated_beyond_where_the_cut_out_opens() {
        let circuit = Circuit::new(demo_combi()).unwrap();
        let early = with(Parameter::HeatCeiling, 0.8);
        let reached = [WashStage::First, WashStage::Second, WashStage::Third]
            .map(|stage| circuit.predict(&Reads::HeatingTime { stage }, 0, &early).is_finite());
        assert_eq!(reached, [true, true, false]);
    }

    #[test]
    fn what_is_switched_off_does_nothing() {
        let circuit = Circuit::new(demo_combi()).unwrap();
        let never = circuit.predict(&Reads::FillTime, 0, &with(Parameter::FillOutput, 0.0));
        assert!(never.is_infinite() && never > 0.0);
        check(&Reads::FirstFlow, &with(Parameter::DoorMade, 0.0), 0.0, 0.0);
        check(&Reads::MotorCurrent, &with(Parameter::WashOutput, 0.0), 0.0, 0.0);
        let cold = with(Parameter::HeatOutput, 0.0);
        let reads = Reads::HeatingTime { stage: WashStage::First };
        assert!(circuit.predict(&reads, 0, &cold).is_infinite());
        let steam = Reads::Own { subsystem: Subsystem::Heat, healthy: 60.0, unpowered: Some(1800.0) };
        check(&steam, &cold, 1800.0, 0.0);
    }
}
