//! The readings of each subsystem, summed over severities and spreads on fine even grids, for one case.

use std::collections::HashMap;
use std::rc::Rc;

use domain::equipment::{Change, Effect, Extent, MeasurementModel, Parameter, Reads, Subsystem, Target};
use simulator::cases::catalogue::circuit::{Circuit, State};
use simulator::cases::catalogue::{CatalogueCase, POURED, UNKNOWN_LEAVES_AS_IT_IS};

use super::reading::Reading;
use super::wash_runs::course;
use super::{Ideal, Thing};

/// Even steps over a normal distribution: the trapezoidal rule converges faster than any power there.
const DEVIATIONS: usize = 7;
const DEVIATION_STEP: f64 = 1.0;
/// Static pressure of the site from 0.2 bar on and voltage from 0.7 of the nominal on, by even factors.
const PRESSURES: usize = 113;
const PRESSURE_STEP: f64 = 0.035;
const VOLTAGES: usize = 36;
const VOLTAGE_STEP: f64 = 0.012;
/// Even steps through a range of severities.
const STEPS: usize = 5;
/// Shares of the full volume that the controls waited for.
const SHARES: usize = 26;
const SHARE_STEP: f64 = 0.04;
/// Nodes of less weight than this share of the heaviest are passed over.
const NEGLIGIBLE: f64 = 1e-4;

type Members = Vec<usize>;

/// By share of the full volume that came, in even steps of [`SHARE_STEP`], P(readings, that much came) by node of the
/// pressure; empty where it never comes to that.
type Filled = Vec<Vec<f64>>;

/// What the controls reach.
#[derive(Clone, Copy, PartialEq)]
pub(super) struct Outputs {
    pub fill: bool,
    pub wash: bool,
    pub heat: bool,
}

/// With the probability of the readings.
type Ways = Vec<(Outputs, f64)>;

/// Whether the door is made, what leaks past it, probability.
type Doors = Vec<(bool, f64, f64)>;

/// What stands in the sump before the wash run, L, with its probability and that of the readings, by the share of the
/// full volume that came.
type Levels = Vec<Vec<(f64, f64)>>;

pub(super) struct Blocks<'a, 'b> {
    ideal: &'a Ideal<'b>,
    /// By measurement.
    readings: Vec<Option<Reading>>,
    /// Deviations with their weights.
    deviations: Vec<(f64, f64)>,
    /// Nodes that matter in this case: their values.
    pressures: Vec<f64>,
    voltages: Vec<f64>,
    water: HashMap<Members, Rc<Vec<f64>>>,
    power: HashMap<Members, Rc<Vec<f64>>>,
    fill: HashMap<(Members, bool), Rc<Filled>>,
    heat: HashMap<(Members, bool), Rc<Vec<f64>>>,
    wash: HashMap<(Members, bool, u64, u64), Rc<Vec<f64>>>,
    control: HashMap<Members, Rc<Ways>>,
    door: HashMap<Members, Rc<Doors>>,
    sump: HashMap<Members, Rc<Levels>>,
    drain: HashMap<Members, f64>,
}

impl<'a, 'b> Blocks<'a, 'b> {
    pub fn new(ideal: &'a Ideal<'b>, case: &CatalogueCase) -> Self {
        let readings = ideal.catalogue.measurements.iter().map(|of| {
            let seen = case.observations.iter().find(|seen| seen.key == of.key)?;
            Reading::new(of, &seen.seen)
        });
        let half = (DEVIATIONS - 1) as f64 / 2.0;
        let deviations = (0..DEVIATIONS).map(|at| {
            let z = (at as f64 - half) * DEVIATION_STEP;
            (z, DEVIATION_STEP * (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt())
        });
        let mut blocks = Self {
            ideal,
            readings: readings.collect(),
            deviations: deviations.collect(),
            pressures: (0..PRESSURES).map(|at| 0.2 * (at as f64 * PRESSURE_STEP).exp()).collect(),
            voltages: (0..VOLTAGES).map(|at| 0.7 * (at as f64 * VOLTAGE_STEP).exp()).collect(),
            water: HashMap::new(),
            power: HashMap::new(),
            fill: HashMap::new(),
            heat: HashMap::new(),
            wash: HashMap::new(),
            control: HashMap::new(),
            door: HashMap::new(),
            sump: HashMap::new(),
            drain: HashMap::new(),
        };
        let faults_of = |subsystem| {
            let of = |thing: &usize| ideal.things[*thing].subsystem(ideal.catalogue) == subsystem;
            (0..ideal.things.len()).filter(of).collect::<Vec<_>>()
        };
        let weigh = |one: &dyn Fn(&[usize]) -> Vec<f64>, of: &[usize]| {
            let mut weight = one(&[]);
            for fault in of {
                let odds = ideal.odds[*fault];
                weight.iter_mut().zip(one(&[*fault])).for_each(|(sum, value)| *sum += odds * value);
            }
            weight
        };
        let weight = weigh(&|set| blocks.water_at(set), &faults_of(Subsystem::WaterSupply));
        let pressures = heavy(&blocks.pressures, &weight);
        let weight = weigh(&|set| blocks.power_at(set), &faults_of(Subsystem::PowerSupply));
        let voltages = heavy(&blocks.voltages, &weight);
        (blocks.pressures, blocks.voltages) = (pressures, voltages);
        blocks
    }

    /// P(all numbers | this set and how its switches stand), summed over what the switches may be and
    /// weighed by `looks`, which is given the outputs and the door.
    pub fn numbers(&mut self, set: &[usize], looks: impl Fn(Outputs, bool) -> f64) -> f64 {
        let ideal = self.ideal;
        let of = |subsystem| -> Members {
            let of = |thing: &&usize| ideal.things[**thing].subsystem(ideal.catalogue) == subsystem;
            set.iter().filter(of).copied().collect()
        };
        let fill = of(Subsystem::Fill);
        let (wash, heat, power) = (of(Subsystem::Wash), of(Subsystem::Heat), of(Subsystem::PowerSupply));
        let water = self.water(&of(Subsystem::WaterSupply));
        let (control, door) = (self.control(&of(Subsystem::Control)), self.door(&of(Subsystem::Door)));
        let sump = self.sump(&of(Subsystem::Sump));
        let power = self.power(&power);
        let mut sum = 0.0;
        for (outputs, of_control) in control.iter() {
            let heat = self.heat(&heat, outputs.heat);
            let electric: Vec<f64> =
                power.iter().zip(heat.iter()).map(|(power, heat)| power * heat).collect();
            let filled = self.fill(&fill, outputs.fill);
            let came: Vec<f64> = filled
                .iter()
                .map(|readings| if readings.is_empty() { 0.0 } else { dot(&water, readings) })
                .collect();
            let total: f64 = came.iter().sum();
            for (made, leak, of_door) in door.iter() {
                let weight = of_control * of_door * looks(*outputs, *made);
                if weight <= 0.0 {
                    continue;
                }
                let powered = outputs.wash && *made;
                let levels = sump.iter().zip(&came).filter(|(_, came)| **came > NEGLIGIBLE * total);
                let levels =
                    levels.flat_map(|(ways, came)| ways.iter().map(move |way| (way.0, came * way.1)));
                for (level, of_level) in levels.filter(|(_, of_level)| *of_level > 0.0) {
                    let washed = self.wash(&wash, powered, *leak, level);
                    sum += weight * of_level * dot(&electric, &washed);
                }
            }
        }
        sum * self.drain(&of(Subsystem::Drain))
    }

    fn water(&mut self, set: &[usize]) -> Rc<Vec<f64>> {
        if let Some(known) = self.water.get(set) {
            return known.clone();
        }
        let made = Rc::new(self.water_at(set));
        self.water.insert(set.to_vec(), made.clone());
        made
    }

    fn water_at(&self, set: &[usize]) -> Vec<f64> {
        let spreads = &self.ideal.catalogue.spreads;
        let read = self.reading_of(&Reads::StaticPressure);
        let mut medians = Vec::new();
        self.each_state(set, |state, weight| {
            medians.push((spreads.site_pressure_bar * state.get(Parameter::SitePressure), weight));
        });
        let density = |value: f64| -> f64 {
            medians
                .iter()
                .map(|(median, weight)| weight * log_normal(value, *median, spreads.site_pressure))
                .sum()
        };
        let values = self.pressures.iter();
        values.map(|bar| PRESSURE_STEP * density(*bar) * read.map_or(1.0, |read| read.given(*bar))).collect()
    }

    fn power(&mut self, set: &[usize]) -> Rc<Vec<f64>> {
        if let Some(known) = self.power.get(set) {
            return known.clone();
        }
        let made = Rc::new(self.power_at(set));
        self.power.insert(set.to_vec(), made.clone());
        made
    }

    fn power_at(&self, set: &[usize]) -> Vec<f64> {
        let spread = self.ideal.catalogue.spreads.site_voltage;
        let read = self.reading_of(&Reads::SiteVoltage);
        let nominal = self.ideal.nominal_voltage;
        let mut medians = Vec::new();
        self.each_state(set, |state, weight| medians.push((state.get(Parameter::SiteVoltage), weight)));
        let density = |value: f64| -> f64 {
            medians.iter().map(|(median, weight)| weight * log_normal(value, *median, spread)).sum()
        };
        let values = self.voltages.iter();
        values
            .map(|volts| {
                VOLTAGE_STEP * density(*volts) * read.map_or(1.0, |read| read.given(nominal * volts))
            })
            .collect()
    }

    fn fill(&mut self, set: &[usize], output: bool) -> Rc<Filled> {
        let key = (set.to_vec(), output);
        if let Some(known) = self.fill.get(&key) {
            return known.clone();
        }
        let readings = self.readings_of(Subsystem::Fill);
        let unknown = self.has_unknown(set);
        let spreads = &self.ideal.catalogue.spreads;
        let (spread, allowed) = (spreads.fill_valve_kv, spreads.fill_allowed);
        let mut filled: Filled = vec![Vec::new(); SHARES];
        self.each_state(set, |state, weight| {
            let mut state = state.clone();
            state.parameters[Parameter::FillOutput as usize] = if output { 1.0 } else { 0.0 };
            let comes = Circuit::water_comes(&state);
            let kv = state.get(Parameter::FillValveKv);
            // What does not flow does not depend on the valve's own deviation, nor what says nothing.
            let deviations: &[(f64, f64)] = if comes && !unknown { &self.deviations } else { &[(0.0, 1.0)] };
            for (z, of_z) in deviations {
                state.parameters[Parameter::FillValveKv as usize] = kv * (z * spread).exp();
                for (at, bar) in self.pressures.iter().enumerate() {
                    state.pressure_bar = *bar;
                    let product = weight * of_z * self.product(&readings, &state, unknown);
                    let flow = self.ideal.circuit.flow(&state);
                    for (waits, of_waits) in &self.deviations {
                        state.allowed = (waits * allowed).exp();
                        let came = self.ideal.circuit.came_of(flow, &state);
                        let into = &mut filled[(came / SHARE_STEP).round() as usize];
                        if into.is_empty() {
                            into.resize(self.pressures.len(), 0.0);
                        }
                        into[at] += of_waits * product;
                    }
                }
            }
        });
        let made = Rc::new(filled);
        self.fill.insert(key, made.clone());
        made
    }

    fn heat(&mut self, set: &[usize], output: bool) -> Rc<Vec<f64>> {
        let key = (set.to_vec(), output);
        if let Some(known) = self.heat.get(&key) {
            return known.clone();
        }
        let readings = self.readings_of(Subsystem::Heat);
        let unknown = self.has_unknown(set);
        let spread = self.ideal.catalogue.spreads.heating_power;
        let mut sums = vec![0.0; self.voltages.len()];
        self.each_state(set, |state, weight| {
            let mut state = state.clone();
            state.parameters[Parameter::HeatOutput as usize] = if output { 1.0 } else { 0.0 };
            let power = state.get(Parameter::HeatingPower);
            for (z, of_z) in &self.deviations {
                state.parameters[Parameter::HeatingPower as usize] = power * (z * spread).exp();
                for (sum, volts) in sums.iter_mut().zip(&self.voltages) {
                    state.voltage = *volts;
                    *sum += weight * of_z * self.product(&readings, &state, unknown);
                }
            }
        });
        let made = Rc::new(sums);
        self.heat.insert(key, made.clone());
        made
    }

    fn wash(&mut self, set: &[usize], powered: bool, leak: f64, level_l: f64) -> Rc<Vec<f64>> {
        let key = (set.to_vec(), powered, leak.to_bits(), level_l.to_bits());
        if let Some(known) = self.wash.get(&key) {
            return known.clone();
        }
        let readings = self.readings_of(Subsystem::Wash);
        let unknown = self.has_unknown(set);
        let spread = self.ideal.catalogue.spreads.pump_head;
        let circuit = &self.ideal.circuit;
        let of_run = |of: &MeasurementModel| matches!(of.reads, Reads::FirstFall | Reads::LastFifthShare);
        let (runs, others): (Vec<usize>, Vec<usize>) =
            readings.iter().partition(|index| of_run(&self.ideal.catalogue.measurements[**index]));
        let mut sums = vec![0.0; self.voltages.len()];
        self.each_state(set, |state, weight| {
            let mut state = state.clone();
            state.parameters[Parameter::WashOutput as usize] = if powered { 1.0 } else { 0.0 };
            let courses = self.ideal.runs.courses(circuit, Circuit::fades_after_s(&state), leak, level_l);
            let head = state.get(Parameter::PumpHead);
            for (z, of_z) in &self.deviations {
                state.parameters[Parameter::PumpHead as usize] = head * (z * spread).exp();
                for (sum, volts) in sums.iter_mut().zip(&self.voltages) {
                    state.voltage = *volts;
                    let mut product = self.product(&others, &state, unknown);
                    let (first, faded) = circuit.wash_flows(&state);
                    let (fall, share) = course(&courses, first, faded);
                    for index in &runs {
                        let falls = self.ideal.catalogue.measurements[*index].reads == Reads::FirstFall;
                        let predicted = if falls { fall } else { 100.0 * share };
                        product *= self.readings[*index]
                            .as_ref()
                            .map_or(1.0, |read| if unknown { read.flat } else { read.given(predicted) });
                    }
                    *sum += weight * of_z * product;
                }
            }
        });
        let made = Rc::new(sums);
        self.wash.insert(key, made.clone());
        made
    }

    fn control(&mut self, set: &[usize]) -> Rc<Ways> {
        if let Some(known) = self.control.get(set) {
            return known.clone();
        }
        let (readings, unknown) = (self.readings_of(Subsystem::Control), self.has_unknown(set));
        let mut ways: Ways = Vec::new();
        self.each_state(set, |state, weight| {
            let reaches = |output| state.get(output) > 0.5;
            let outputs = Outputs {
                fill: reaches(Parameter::FillOutput),
                wash: reaches(Parameter::WashOutput),
                heat: reaches(Parameter::HeatOutput),
            };
            let weight = weight * self.product(&readings, state, unknown);
            match ways.iter_mut().find(|way| way.0 == outputs) {
                Some(way) => way.1 += weight,
                None => ways.push((outputs, weight)),
            }
        });
        let made = Rc::new(ways);
        self.control.insert(set.to_vec(), made.clone());
        made
    }

    fn door(&mut self, set: &[usize]) -> Rc<Doors> {
        if let Some(known) = self.door.get(set) {
            return known.clone();
        }
        let mut ways: Vec<(bool, f64, f64)> = Vec::new();
        self.each_state(set, |state, weight| {
            let (made, leak) = (state.get(Parameter::DoorMade) > 0.5, state.get(Parameter::DoorLeak));
            match ways.iter_mut().find(|way| way.0 == made && way.1.to_bits() == leak.to_bits()) {
                Some(way) => way.2 += weight,
                None => ways.push((made, leak, weight)),
            }
        });
        let made = Rc::new(ways);
        self.door.insert(set.to_vec(), made.clone());
        made
    }

    fn sump(&mut self, set: &[usize]) -> Rc<Levels> {
        if let Some(known) = self.sump.get(set) {
            return known.clone();
        }
        let mut readings = self.readings_of(Subsystem::Sump);
        readings.retain(|index| self.ideal.catalogue.measurements[*index].reads != Reads::FilledVolume);
        let unknown = self.has_unknown(set);
        let mut ways: Vec<(f64, f64)> = Vec::new();
        self.each_state(set, |state, weight| {
            let level = state.get(Parameter::FilledVolume);
            let weight = weight * self.product(&readings, state, unknown);
            match ways.iter_mut().find(|way| way.0.to_bits() == level.to_bits()) {
                Some(way) => way.1 += weight,
                None => ways.push((level, weight)),
            }
        });
        let full = self.ideal.circuit.sump.full_l;
        let given = |read: Option<&Reading>, litres: f64| {
            read.map_or(1.0, |read| if unknown { read.flat } else { read.given(litres) })
        };
        let (before_a_run, by_itself) = (self.level_read(true), self.level_read(false));
        let levels = (0..SHARES).map(|at| {
            let to_the_sensor = |sensor: f64| match at {
                came if came + 1 < SHARES => sensor.min(came as f64 * SHARE_STEP),
                _ => sensor,
            };
            let filled = ways.iter().map(|(sensor, weight)| {
                let litres = to_the_sensor(*sensor) * full;
                (litres, weight * given(by_itself, litres))
            });
            match before_a_run {
                // Poured to the mark, or filled to it: then the level is not read.
                None => {
                    let of =
                        |(litres, weight): (f64, f64)| if litres < full { POURED * weight } else { weight };
                    vec![(full, filled.map(of).sum())]
                }
                read => filled
                    .filter(|way| way.0 < full)
                    .map(|(litres, weight)| (litres, (1.0 - POURED) * weight * given(read, litres)))
                    .collect(),
            }
        });
        let levels: Levels = levels.collect();
        let made = Rc::new(levels);
        self.sump.insert(set.to_vec(), made.clone());
        made
    }

    fn drain(&mut self, set: &[usize]) -> f64 {
        if let Some(known) = self.drain.get(set) {
            return *known;
        }
        let (readings, unknown) = (self.readings_of(Subsystem::Drain), self.has_unknown(set));
        let mut sum = 0.0;
        self.each_state(set, |state, weight| sum += weight * self.product(&readings, state, unknown));
        self.drain.insert(set.to_vec(), sum);
        sum
    }

    fn product(&self, readings: &[usize], state: &State, unknown: bool) -> f64 {
        let mut product = 1.0;
        for index in readings {
            let Some(read) = &self.readings[*index] else { continue };
            let of = &self.ideal.catalogue.measurements[*index];
            let given = |state: &State| read.given(self.ideal.circuit.predict(&of.reads, *index, state));
            product *= match (unknown, of.of_part) {
                (false, _) => given(state),
                (true, false) => read.flat,
                // What nobody described mostly leaves a part's own value as it is.
                (true, true) => {
                    UNKNOWN_LEAVES_AS_IT_IS * given(&self.ideal.sound)
                        + (1.0 - UNKNOWN_LEAVES_AS_IT_IS) * read.flat
                }
            };
        }
        product
    }

    /// Measurements of a subsystem that were read.
    fn readings_of(&self, subsystem: Subsystem) -> Vec<usize> {
        let measurements = self.ideal.catalogue.measurements.iter().enumerate();
        measurements
            .filter(|(index, of)| of.reads.subsystem() == subsystem && self.readings[*index].is_some())
            .map(|(index, _)| index)
            .collect()
    }

    /// How full the sump was read to be, before a wash run or where the machine's own fill ended.
    fn level_read(&self, before_a_run: bool) -> Option<&Reading> {
        self.reading(|of| {
            of.reads == Reads::FilledVolume && (of.key.step() == "level_before") == before_a_run
        })
    }

    fn reading_of(&self, reads: &Reads) -> Option<&Reading> {
        self.reading(|of| of.reads == *reads)
    }

    fn reading(&self, is_it: impl Fn(&MeasurementModel) -> bool) -> Option<&Reading> {
        let at = self.ideal.catalogue.measurements.iter().position(is_it)?;
        self.readings[at].as_ref()
    }

    fn has_unknown(&self, set: &[usize]) -> bool {
        set.iter().any(|thing| matches!(self.ideal.things[*thing], Thing::Unknown(_)))
    }

    /// Every combination of severities of these things, with its probability.
    fn each_state(&self, set: &[usize], mut with: impl FnMut(&State, f64)) {
        let mut states = vec![(self.ideal.sound.clone(), 1.0)];
        for thing in set {
            let Thing::Fault(fault) = self.ideal.things[*thing] else { continue };
            let fault = &self.ideal.catalogue.faults[fault];
            for dimension in fault.dimensions() {
                let total: f64 = dimension.weights.iter().sum();
                let mut next = Vec::new();
                for (level, of_level) in dimension.weights.iter().enumerate() {
                    let is_range =
                        |effect: &&Effect| matches!(effect.change.extents()[level], Extent::Range(..));
                    let steps = if dimension.effects.iter().any(is_range) { STEPS } else { 1 };
                    for (step, (state, weight)) in
                        (0..steps).flat_map(|step| states.iter().map(move |state| (step, state)))
                    {
                        let mut state = state.clone();
                        let share = (step as f64 + 0.5) / steps as f64;
                        for effect in &dimension.effects {
                            self.change(&mut state, effect, level, share);
                        }
                        next.push((state, weight * of_level / total / steps as f64));
                    }
                }
                states = next;
            }
        }
        for (state, weight) in &states {
            with(state, *weight);
        }
    }

    fn change(&self, state: &mut State, effect: &Effect, level: usize, share: f64) {
        let value = match &effect.on {
            Target::Parameter(parameter) => &mut state.parameters[*parameter as usize],
            Target::Measurement(key) => {
                let at = self.ideal.catalogue.measurements.iter().position(|of| of.key == *key);
                let Some(at) = at else { return };
                &mut state.own[at]
            }
        };
        let by = effect.change.extents()[level].at(share);
        match effect.change {
            Change::Scale(_) => *value *= by,
            Change::Add(_) => *value += by,
        }
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn log_normal(value: f64, median: f64, spread: f64) -> f64 {
    let z = (value / median).ln() / spread;
    (-0.5 * z * z).exp() / (spread * (2.0 * std::f64::consts::PI).sqrt())
}

fn heavy(values: &[f64], weights: &[f64]) -> Vec<f64> {
    let most = weights.iter().copied().fold(0.0, f64::max);
    values.iter().zip(weights).filter(|(_, weight)| **weight >= NEGLIGIBLE * most).map(|(v, _)| *v).collect()
}
