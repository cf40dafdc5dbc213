//! What the readings of a machine would be, given the parameters that its faults have changed and the
//! values of the shared nodes: the physics of the wash circuit, asked for one machine.

mod wash;

use super::node::Node;
use super::tables::THREE;
use crate::equipment::{Drain, FaultCatalogue, Model, Parameter, Reads, Subsystem, WashStage};
use crate::physics::PhysicsError;
use crate::physics::drain::{self, GravityOutlet};
use crate::physics::fill::{FillFlow, FillLine, Supply};
use crate::physics::heating::{HeaterState, share_of_power};
use crate::quantity::{FlowCoefficient, Length, StaticPressure, Volume, VolumeFlow};
use wash::Wash;

pub(super) use wash::{LEVELS, place};

/// How much more coarsely than a fill time pressures need to be told apart: the pressure of the site
/// is known to 4 % at best.
const DYNAMIC_PRESSURE_COARSENESS: f64 = 2.0;
const PRESSURE_AFTER_STRAINER_COARSENESS: f64 = 3.0;

/// The machine of one model.
pub(super) struct Circuit {
    fill: Option<(FillLine, Supply)>,
    /// How long the controls let it fill, s.
    allowed_s: f64,
    full_l: f64,
    call: Call,
    wash: Option<Wash>,
    /// Time in which a sound machine drains its full sump, s.
    drain_s: Option<f64>,
    heater: Option<Heat>,
    water_cel: f64,
    wash_stages_cel: Vec<f64>,
    site_voltage_v: f64,
}

/// The timed call of water at the start of a cycle.
#[derive(Debug, Clone, Copy, Default)]
struct Call {
    duration_s: f64,
    opening_s: f64,
}

struct Heat {
    rated_w: f64,
    loss_w: f64,
    joule_per_kelvin: f64,
    /// Share of the power with 0, 1, 2 … elements open.
    shares: Vec<f64>,
}

/// One state of a subsystem: its parameters, and the values of the measurements that have values of
/// their own there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct State {
    pub parameters: [f64; Parameter::COUNT],
    /// The ends of the stretch in which each lies.
    pub own: Vec<(f64, f64)>,
}

impl State {
    pub fn get(&self, parameter: Parameter) -> f64 {
        self.parameters[parameter as usize]
    }
}

/// Values of the shared nodes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Context([f64; Node::COUNT]);

impl Context {
    /// Everything outside the subsystem as it should be.
    pub fn sound(catalogue: &FaultCatalogue) -> Self {
        let mut values = [1.0; Node::COUNT];
        values[Node::SitePressure.index()] = catalogue.spreads.site_pressure_bar;
        values[Node::DoorLeak.index()] = 0.0;
        Self(values)
    }

    pub fn get(&self, node: Node) -> f64 {
        self.0[node.index()]
    }

    pub fn set(&mut self, node: Node, value: f64) {
        self.0[node.index()] = value;
    }

    fn on(&self, node: Node) -> bool {
        self.get(node) > 0.5
    }
}

impl Circuit {
    pub fn new(model: &Model) -> Result<Self, PhysicsError> {
        let fill = match &model.fill {
            Some(circuit) => Some((FillLine::try_from(circuit)?, Supply::at_reference(&model.reference)?)),
            None => None,
        };
        let wash = match (&model.wash_pump, &model.sump) {
            (Some(pump), Some(sump)) => Some(Wash::new(pump, sump)?),
            _ => None,
        };
        let full_l = model.sump.map_or(0.0, |sump| sump.full_l);
        let drain_s = model.drain.map(|drain| drain_time(drain, full_l)).transpose()?;
        let heater = model.heater.as_ref().map(Heat::new).transpose()?;
        Ok(Self {
            fill,
            allowed_s: model.fill.and_then(|fill| fill.allowed_s).unwrap_or(f64::INFINITY),
            full_l,
            call: Call {
                duration_s: model.start_up_call.map_or(0.0, |call| call.duration_s),
                opening_s: model.fill.map_or(0.0, |fill| fill.opening_time_s),
            },
            wash,
            drain_s,
            heater,
            water_cel: model.reference.water_temperature_cel,
            wash_stages_cel: model.wash_stages_cel.clone(),
            site_voltage_v: model.reference.supply_voltage_v,
        })
    }

    /// How hot a stage of the wash is, °C.
    pub fn stage_cel(&self, stage: WashStage) -> Option<f64> {
        self.wash_stages_cel.get(stage.index()).copied()
    }

    /// From the model's water to a stage, K.
    pub fn rise_to(&self, stage: WashStage) -> Option<f64> {
        self.stage_cel(stage).map(|cel| cel - self.water_cel)
    }

    /// How many stages the safety cut-out lets the heating reach.
    fn stages_below_ceiling(&self, state: &State) -> usize {
        let hottest = self.wash_stages_cel.last().copied().unwrap_or_default();
        let ceiling = hottest * state.get(Parameter::HeatCeiling);
        self.wash_stages_cel.iter().take_while(|stage| **stage <= ceiling).count()
    }

    /// What tells the parameters of a subsystem apart, as logarithms where it is a factor: states that agree in
    /// all of it give the same readings, the pressure after the inlet strainer only if that is asked for.
    pub fn coordinates(&self, subsystem: Subsystem, state: &State, after_strainer: bool) -> Vec<f64> {
        let log = |parameter: Parameter| state.get(parameter).max(1e-6).ln();
        match subsystem {
            Subsystem::Fill => self.fill_coordinates(state, after_strainer),
            Subsystem::Wash => self.wash.as_ref().map(|wash| wash.coordinates(state)).unwrap_or_default(),
            Subsystem::Heat => vec![
                state.get(Parameter::OpenElements),
                log(Parameter::HeatingPower),
                self.stages_below_ceiling(state) as f64,
            ],
            Subsystem::Door => {
                vec![state.get(Parameter::DoorMade), state.get(Parameter::DoorLeak) * 20.0]
            }
            Subsystem::Control => [Parameter::FillOutput, Parameter::WashOutput, Parameter::HeatOutput]
                .map(|output| state.get(output))
                .to_vec(),
            Subsystem::WaterSupply => vec![log(Parameter::SitePressure)],
            Subsystem::PowerSupply => vec![log(Parameter::SiteVoltage)],
            Subsystem::Sump => vec![log(Parameter::FilledVolume)],
            Subsystem::Drain => vec![log(Parameter::DrainFlow)],
            Subsystem::Chemical | Subsystem::Use => Vec::new(),
        }
    }

    /// Flow coefficient of the whole way, and the shares of the static pressure left at the two taps,
    /// in proportion to how truly each is read.
    fn fill_coordinates(&self, state: &State, after_strainer: bool) -> Vec<f64> {
        let changed = self.fill.as_ref().map(|(line, _)| changed_line(line, state));
        let (Some(Ok(line)), true) = (changed, state.get(Parameter::FillValveOpens) > 0.5) else {
            return vec![0.0; 4];
        };
        let kv = |element: FlowCoefficient| element.cubic_metres_per_hour().max(1e-6);
        let total = line.flow_coefficient().map_or(1e-6, kv);
        let lost_in_line = (total / kv(line.line)).powi(2);
        let lost_in_strainer = line.inlet_strainer.map_or(0.0, |strainer| (total / kv(strainer)).powi(2));
        let left = |lost: f64| (1.0 - lost).max(0.03).ln();
        let at_second_tap = left(lost_in_line + lost_in_strainer) / PRESSURE_AFTER_STRAINER_COARSENESS;
        vec![
            1.0,
            total.ln(),
            left(lost_in_line) / DYNAMIC_PRESSURE_COARSENESS,
            if after_strainer { at_second_tap } else { 0.0 },
        ]
    }

    /// Whether a prediction is a stretch of values, given by its two ends, and not one value.
    pub const fn is_stretch(reads: &Reads) -> bool {
        matches!(reads, Reads::Own { .. } | Reads::FilledVolume | Reads::SiteVoltage)
    }

    /// How many values a prediction has: one, or one for each of [`LEVELS`] where it depends on how
    /// full the sump was at the start.
    pub const fn depends_on_level(reads: &Reads) -> bool {
        matches!(reads, Reads::FirstFall | Reads::LastFifthShare)
    }

    /// The node, if any, by which a subsystem as a whole is on or off.
    pub const fn switch_of(subsystem: Subsystem) -> &'static [Node] {
        match subsystem {
            Subsystem::Fill => &[Node::FillOutput],
            Subsystem::Wash => &[Node::WashPowered],
            Subsystem::Heat => &[Node::HeatOutput],
            _ => &[],
        }
    }

    /// The nodes on which a prediction depends, beside the level.
    pub const fn depends_on(reads: &Reads) -> &'static [Node] {
        match reads {
            Reads::StaticPressure => &[Node::SitePressure],
            Reads::DynamicPressure | Reads::PressureAfterStrainer | Reads::FillTime | Reads::CaughtVolume => {
                &[Node::FillOutput, Node::SitePressure]
            }
            Reads::FilledVolume => &[Node::FilledVolume],
            Reads::FirstFlow | Reads::MotorCurrent => &[Node::WashPowered, Node::SiteVoltage],
            Reads::FirstFall | Reads::LastFifthShare => {
                &[Node::WashPowered, Node::SiteVoltage, Node::DoorLeak]
            }
            Reads::HeatingTime { .. } => &[Node::HeatOutput, Node::SiteVoltage],
            Reads::SiteVoltage => &[Node::SiteVoltage],
            Reads::Own { subsystem, unpowered: Some(_), .. } => Self::switch_of(*subsystem),
            Reads::DrainTime | Reads::Own { .. } => &[],
        }
    }

    /// The reading in the canonical unit of its quantity; infinite for what never happens. Empty where
    /// the model lacks what it would be predicted from.
    pub fn predict(&self, reads: &Reads, own: Option<usize>, state: &State, context: &Context) -> Vec<f64> {
        let value = match reads {
            Reads::StaticPressure => Some(context.get(Node::SitePressure)),
            Reads::DynamicPressure | Reads::PressureAfterStrainer | Reads::FillTime | Reads::CaughtVolume => {
                let flow = self.fill_flow(state, context);
                self.predict_fill(reads, flow.as_ref(), context.get(Node::SitePressure))
            }
            Reads::FilledVolume => return Self::stretch(Node::FilledVolume, self.full_l, context),
            Reads::FirstFlow | Reads::MotorCurrent | Reads::FirstFall | Reads::LastFifthShare => {
                let powered = context.on(Node::WashPowered);
                let (voltage, leak) = (context.get(Node::SiteVoltage), context.get(Node::DoorLeak));
                return self
                    .wash
                    .as_ref()
                    .map(|wash| wash.predict(reads, state, powered, voltage, leak))
                    .unwrap_or_default();
            }
            Reads::DrainTime => self.drain_s.map(|sound| sound / state.get(Parameter::DrainFlow)),
            Reads::HeatingTime { stage } => {
                self.heater.as_ref().zip(self.rise_to(*stage)).map(|(heater, rise)| {
                    let reached = stage.index() < self.stages_below_ceiling(state);
                    if context.on(Node::HeatOutput) && reached {
                        heater.time(rise, state, context.get(Node::SiteVoltage))
                    } else {
                        f64::INFINITY
                    }
                })
            }
            Reads::SiteVoltage => return Self::stretch(Node::SiteVoltage, self.site_voltage_v, context),
            Reads::Own { unpowered: Some(unpowered), .. }
                if !Self::depends_on(reads).iter().all(|switch| context.on(*switch)) =>
            {
                return vec![*unpowered; 2];
            }
            Reads::Own { .. } => {
                return own
                    .and_then(|index| state.own.get(index))
                    .map(|(low, high)| vec![*low, *high])
                    .unwrap_or_default();
            }
        };
        value.into_iter().collect()
    }

    /// The ends of what a node of the grid stands for.
    fn stretch(node: Node, unit: f64, context: &Context) -> Vec<f64> {
        let (low, high) = node.stretch(context.get(node));
        vec![unit * low, unit * high]
    }

    /// What flows into the sump, and the pressures on the way; `None` if nothing flows. A line that
    /// cannot be computed passes nothing, as one that is shut.
    pub fn fill_flow(&self, state: &State, context: &Context) -> Option<FillFlow> {
        let (line, supply) = self.fill.as_ref()?;
        let opens = context.on(Node::FillOutput) && state.get(Parameter::FillValveOpens) > 0.5;
        if !opens {
            return None;
        }
        let static_pressure = StaticPressure::from_bar(context.get(Node::SitePressure)).ok()?;
        changed_line(line, state).and_then(|line| line.flow(&Supply { static_pressure, ..*supply })).ok()
    }

    /// The readings of the fill side, from [`Self::fill_flow`] at this static pressure.
    pub fn predict_fill(
        &self,
        reads: &Reads,
        flow: Option<&FillFlow>,
        static_pressure_bar: f64,
    ) -> Option<f64> {
        self.fill.as_ref()?;
        let Some(flow) = flow else {
            return Some(match reads {
                Reads::FillTime => f64::INFINITY,
                Reads::CaughtVolume => 0.0,
                _ => static_pressure_bar,
            });
        };
        let litres_per_second = flow.flow.litres_per_second();
        Some(match reads {
            Reads::DynamicPressure => flow.dynamic_pressure.bar(),
            Reads::PressureAfterStrainer => flow.pressure_after_strainer.bar(),
            Reads::FillTime => self.full_l / litres_per_second,
            _ => litres_per_second * (self.call.duration_s - self.call.opening_s),
        })
    }

    /// A volume caught in a call of another length, brought to that of the model; `None` if no water
    /// could have come in that time.
    pub fn caught_in_usual_call(&self, litres: f64, call_s: f64) -> Option<f64> {
        let flowing = call_s - self.call.opening_s;
        (flowing > 0.0).then(|| litres * (self.call.duration_s - self.call.opening_s) / flowing)
    }

    pub const fn full_l(&self) -> f64 {
        self.full_l
    }

    pub fn run_s(&self) -> Option<f64> {
        self.wash.as_ref().map(|wash| wash.run_s)
    }

    /// What has come into the sump, over its full volume, when the mark ends the fill or the controls give
    /// up: `min(1, Q·(T − t₀)/V)`. What comes at all comes to the mark where they wait for ever, and in a
    /// machine whose fill is not described.
    fn filled(&self, state: &State, context: &Context, allowed_s: f64) -> f64 {
        let opens = context.on(Node::FillOutput) && state.get(Parameter::FillValveOpens) > 0.5;
        if !opens {
            return 0.0;
        }
        match self.fill_flow(state, context) {
            Some(flow) if allowed_s.is_finite() => {
                let litres = flow.flow.litres_per_second() * (allowed_s - self.call.opening_s).max(0.0);
                (litres / self.full_l).min(1.0)
            }
            Some(_) => 1.0,
            None => f64::from(u8::from(self.fill.is_none())),
        }
    }

    /// Probabilities of the values of a node that the subsystem owns, given its state and, for what came
    /// into the sump, the pressure of the site, for the level, what came.
    pub fn own_node(
        &self,
        node: Node,
        state: &State,
        catalogue: &FaultCatalogue,
        given: &Context,
    ) -> Vec<f64> {
        let spreads = &catalogue.spreads;
        match node {
            Node::SitePressure => node.log_normal(
                spreads.site_pressure_bar * state.get(Parameter::SitePressure),
                spreads.site_pressure,
            ),
            Node::SiteVoltage => node.log_normal(state.get(Parameter::SiteVoltage), spreads.site_voltage),
            Node::FillOutput => node.split(state.get(Parameter::FillOutput)),
            Node::WashOutput => node.split(state.get(Parameter::WashOutput)),
            Node::HeatOutput => node.split(state.get(Parameter::HeatOutput)),
            Node::DoorMade => node.split(state.get(Parameter::DoorMade)),
            Node::DoorLeak => node.split(state.get(Parameter::DoorLeak)),
            // The sensor ends the fill where water comes to it; above the mark it does so whatever the time.
            Node::FilledVolume => {
                let (sensor, came) = (state.get(Parameter::FilledVolume), given.get(Node::Filled));
                node.split(if came < 1.0 { sensor.min(came) } else { sensor })
            }
            Node::Filled => {
                let mut came = vec![0.0; node.size()];
                for (z, weight) in THREE {
                    let allowed_s = self.allowed_s * (z * spreads.fill_allowed).exp();
                    let split = node.split(self.filled(state, given, allowed_s));
                    came.iter_mut().zip(split).for_each(|(sum, share)| *sum += weight * share);
                }
                came
            }
            Node::WashPowered => {
                let both = given.on(Node::WashOutput) && given.on(Node::DoorMade);
                node.split(f64::from(u8::from(both)))
            }
        }
    }
}

/// The line with the flow coefficients that its faults have left.
fn changed_line(line: &FillLine, state: &State) -> Result<FillLine, PhysicsError> {
    let scaled = |kv: FlowCoefficient, parameter: Parameter| {
        FlowCoefficient::from_cubic_metres_per_hour(kv.cubic_metres_per_hour() * state.get(parameter))
    };
    let mut changed = *line;
    changed.line = scaled(line.line, Parameter::LineKv)?;
    changed.fill_valve.flow_coefficient = scaled(line.fill_valve.flow_coefficient, Parameter::FillValveKv)?;
    changed.inlet_strainer =
        line.inlet_strainer.map(|kv| scaled(kv, Parameter::InletStrainerKv)).transpose()?;
    changed.valve_strainer =
        line.valve_strainer.map(|kv| scaled(kv, Parameter::ValveStrainerKv)).transpose()?;
    Ok(changed)
}

fn drain_time(drain: Drain, full_l: f64) -> Result<f64, PhysicsError> {
    let time = match drain {
        Drain::Pump { flow_l_per_s } => drain::pumped(
            Volume::from_litres(full_l)?,
            VolumeFlow::from_litres_per_minute(flow_l_per_s * 60.0)?,
        )?,
        Drain::Gravity { surface_m2, outlet_area_m2, discharge_coefficient, head_full_m, head_empty_m } => {
            let outlet = GravityOutlet { surface: surface_m2, outlet: outlet_area_m2, discharge_coefficient };
            outlet.time(
                Length::from_metres(head_full_m)?,
                Length::from_metres(head_empty_m)?,
                VolumeFlow::from_litres_per_minute(0.0)?,
            )?
        }
    };
    Ok(time.seconds())
}

impl Heat {
    fn new(heater: &crate::equipment::Heater) -> Result<Self, PhysicsError> {
        let one = share_of_power(heater.wiring, heater.elements, HeaterState::ElementOpen)?;
        // More than one element open: each further one takes as much as the first.
        let shares = (0..=heater.elements).map(|open| (1.0 - f64::from(open) * (1.0 - one)).max(0.0));
        Ok(Self {
            rated_w: f64::from(heater.elements) * heater.power_per_element_w,
            loss_w: heater.loss_w,
            joule_per_kelvin: 1000.0
                * (heater.metal_kg * heater.metal_heat_capacity_kj_per_kg_k
                    + heater.water_kg * heater.water_heat_capacity_kj_per_kg_k),
            shares: shares.collect(),
        })
    }

    /// `C·ΔT/(P − P_loss)` with P ∝ U²; never if the loss takes all of the power.
    fn time(&self, rise: f64, state: &State, voltage: f64) -> f64 {
        let open = (state.get(Parameter::OpenElements).max(0.0) as usize).min(self.shares.len() - 1);
        let share = self.shares[open] * state.get(Parameter::HeatingPower);
        let net = self.rated_w * share * voltage * voltage - self.loss_w;
        if net > 0.0 { self.joule_per_kelvin * rise / net } else { f64::INFINITY }
    }
}
