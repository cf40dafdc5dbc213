use std::collections::BTreeSet;

use domain::equipment::{
    Change, Dimension, Fault, FaultCatalogue, Inspection, MeasurementModel, Model, ObservationKey, Parameter,
    Reads, Subsystem, Switch, Target,
};
use domain::quantity::Scale;
use domain::text::Key;
use domain::vocabulary::Symptom;

use super::circuit::{Circuit, State};
use super::{CatalogueCase, Observation, Seen, Standing};
use crate::random::Random;

/// Undescribed faults: how often they make people call, per year, and the chance that an inspection of
/// their subsystem shows something, spread over its choices. Conventions of the catalogue's model.
pub const CALLS_OF_THE_UNKNOWN: f64 = 6.0;
pub const UNKNOWN_SHOWS: f64 = 0.5;
/// On a part itself they hardly show, and mostly leave its own value as it is on a sound machine.
pub const UNKNOWN_SHOWS_ON_A_PART: f64 = 0.02;
pub const UNKNOWN_LEAVES_AS_IT_IS: f64 = 0.8;
/// One complaint in ten is misnamed, and one in fifty of those is of any kind: callers say anything. The
/// others are drawn from what all calls are about.
pub const MISNAMED: f64 = 0.1;
pub const OF_ANY_KIND: f64 = 0.02;
/// Chance that a question of the intake is asked.
const ASKED: f64 = 0.7;
/// Chance that the sump was filled up by hand before a wash run.
pub const POURED: f64 = 0.8;
/// Times by hand are given up after this many times the sound one.
pub const PATIENCE: f64 = 4.0;

/// A catalogue made ready to draw from.
pub(super) struct Source<'a> {
    circuit: Circuit<'a>,
    catalogue: &'a FaultCatalogue,
    /// Subsystems of the machine, in which something undescribed may stand.
    subsystems: Vec<Subsystem>,
    /// λ·d of an undescribed fault.
    unknown_odds: f64,
    /// Shares of the complaints about no fault, each fault of the catalogue, and all of it, as what is
    /// undescribed and what is misnamed are complained of.
    without_fault: Shares,
    about: Vec<Shares>,
    about_all: Shares,
    sound: State,
}

/// By symptom.
type Shares = Vec<f64>;

/// What stands in one machine: a fault of the catalogue or something undescribed.
#[derive(Clone, Copy, PartialEq)]
enum Thing {
    Fault(usize),
    Unknown(Subsystem),
}

/// A machine as it stands when it is read.
struct Stood {
    things: Vec<Thing>,
    /// By thing, of each dimension: which range, and how far into it.
    severities: Vec<Vec<(usize, f64)>>,
    state: State,
    complaint: Symptom,
    number: u64,
}

impl<'a> Source<'a> {
    pub fn new(model: &'a Model, catalogue: &'a FaultCatalogue) -> Option<Self> {
        let of_machine = |subsystem: &Subsystem| {
            catalogue.faults.iter().any(|fault| fault.subsystem == *subsystem && !fault.is_external())
        };
        let subsystems: Vec<_> = Subsystem::ALL.into_iter().filter(of_machine).collect();
        let share = catalogue.other_share / (1.0 - catalogue.other_share);
        let unknown_odds =
            catalogue.calls_per_year() * share / subsystems.len().max(1) as f64 / CALLS_OF_THE_UNKNOWN;
        let mut parameters = [1.0; Parameter::COUNT];
        for parameter in [Parameter::OpenElements, Parameter::DoorLeak] {
            parameters[parameter as usize] = parameter.sound();
        }
        let own = catalogue.measurements.iter().map(|measurement| match measurement.reads {
            Reads::Own { healthy, .. } => healthy,
            _ => 0.0,
        });
        let circuit = Circuit::new(model)?;
        let sound = State {
            parameters,
            own: own.collect(),
            pressure_bar: model.reference.static_pressure_bar,
            voltage: 1.0,
            level_l: circuit.sump.full_l,
            allowed: 1.0,
        };
        let faults = &catalogue.faults;
        let rate = |fault: &Fault| fault.odds() * fault.calls_while_standing();
        let all_calls = |symptom| {
            let made = faults.iter().map(|fault| rate(fault) * fault.symptom_share(symptom));
            catalogue.background(Some(symptom)) + made.sum::<f64>()
        };
        let without_fault = &catalogue.calls_without_fault;
        let calls: f64 = without_fault.per_year + faults.iter().map(rate).sum::<f64>();
        let even = OF_ANY_KIND / Symptom::ALL.len() as f64;
        let about_all = shares(|symptom| (1.0 - OF_ANY_KIND) * all_calls(symptom) / calls + even);
        let named = |share: &dyn Fn(Symptom) -> f64| -> Shares {
            let of =
                |(symptom, usual): (&Symptom, &f64)| (1.0 - MISNAMED) * share(*symptom) + MISNAMED * usual;
            Symptom::ALL.iter().zip(&about_all).map(of).collect()
        };
        Some(Self {
            circuit,
            catalogue,
            subsystems,
            unknown_odds,
            without_fault: named(&|symptom| catalogue.background(Some(symptom)) / without_fault.per_year),
            about: faults.iter().map(|fault| named(&|symptom| fault.symptom_share(symptom))).collect(),
            about_all,
            sound,
        })
    }

    pub fn case(&self, random: &mut Random, number: u64) -> CatalogueCase {
        let (things, complaint) = self.call(random);
        let severities: Vec<_> = things.iter().map(|thing| self.severities(*thing, random)).collect();
        let state = self.state(&things, &severities, random);
        self.read(&Stood { things, severities, state, complaint, number }, random)
    }

    /// `machine` is the chance by which the case was drawn, so that unit, kitchen and what stood are the same.
    pub fn again(
        &self,
        machine: &mut Random,
        readings: &mut Random,
        number: u64,
        mended: &BTreeSet<Key>,
    ) -> CatalogueCase {
        let (things, complaint) = self.call(machine);
        let stood: Vec<_> = things.iter().map(|thing| (*thing, self.severities(*thing, machine))).collect();
        let is_left = |thing: &Thing| match thing {
            Thing::Fault(fault) => !mended.contains(&self.catalogue.faults[*fault].key),
            Thing::Unknown(_) => true,
        };
        let (things, severities): (Vec<_>, Vec<_>) =
            stood.into_iter().filter(|(thing, _)| is_left(thing)).unzip();
        let state = self.state(&things, &severities, machine);
        self.read(&Stood { things, severities, state, complaint, number }, readings)
    }

    /// The whole checklist.
    fn read(&self, stood: &Stood, random: &mut Random) -> CatalogueCase {
        let Stood { things, severities, state, complaint, number } = stood;
        let mut observations: Vec<Observation> = Vec::new();
        for (index, measurement) in self.catalogue.measurements.iter().enumerate() {
            observations.extend(self.reading(index, measurement, state, things, random));
        }
        self.tell_level(&mut observations);
        for inspection in &self.catalogue.inspections {
            let asked = inspection.key.procedure() != "intake" || random.chance(ASKED);
            if asked {
                observations.push(self.look(inspection, state, things, random));
            }
        }
        leave_out_what_was_not_reached(&mut observations);
        let standing = |(thing, severities): (&Thing, &Vec<(usize, f64)>)| match thing {
            Thing::Fault(fault) => {
                let fault = &self.catalogue.faults[*fault];
                Standing {
                    fault: Some(fault.key.as_str().to_owned()),
                    subsystem: fault.subsystem,
                    level: severities.first().map_or(0, |first| first.0),
                }
            }
            Thing::Unknown(subsystem) => Standing { fault: None, subsystem: *subsystem, level: 0 },
        };
        CatalogueCase {
            model: self.catalogue.model.as_str().to_owned(),
            complaint: *complaint,
            observations,
            truth: things.iter().zip(severities).map(standing).collect(),
            number: *number,
        }
    }

    /// Who calls, what else stands there, and what is complained of. `P(H) ∝ (κ₀ + Σκ)·Πλd` is a mixture
    /// over who makes the call; the others stand by chance.
    fn call(&self, random: &mut Random) -> (Vec<Thing>, Symptom) {
        let present = |odds: f64| odds / (1.0 + odds);
        let faults = &self.catalogue.faults;
        let mut weights = vec![self.catalogue.calls_without_fault.per_year];
        let of_fault = |fault: &Fault| present(fault.odds()) * fault.calls_while_standing();
        weights.extend(faults.iter().map(of_fault));
        let of_unknown = present(self.unknown_odds) * CALLS_OF_THE_UNKNOWN;
        weights.extend(self.subsystems.iter().map(|_| of_unknown));
        let caller = random.weighted(&weights).checked_sub(1);
        let mut things = Vec::new();
        for (index, fault) in faults.iter().enumerate() {
            if Some(index) == caller || random.chance(present(fault.odds())) {
                things.push(Thing::Fault(index));
            }
        }
        for (index, subsystem) in self.subsystems.iter().enumerate() {
            if Some(faults.len() + index) == caller || random.chance(present(self.unknown_odds)) {
                things.push(Thing::Unknown(*subsystem));
            }
        }
        let shares = match caller {
            None => &self.without_fault,
            Some(index) => self.about.get(index).unwrap_or(&self.about_all),
        };
        let complaint = Symptom::ALL[random.weighted(shares)];
        (things, complaint)
    }

    /// The severity of each dimension of a fault, and how far into it: even from its mild to its grave end.
    fn severities(&self, thing: Thing, random: &mut Random) -> Vec<(usize, f64)> {
        let Thing::Fault(fault) = thing else { return Vec::new() };
        let dimensions = self.catalogue.faults[fault].dimensions();
        let of = |dimension: &Dimension| (random.weighted(dimension.weights), random.uniform());
        dimensions.iter().map(of).collect()
    }

    fn state(&self, things: &[Thing], severities: &[Vec<(usize, f64)>], random: &mut Random) -> State {
        let mut state = self.sound.clone();
        for (thing, severities) in things.iter().zip(severities) {
            if let Thing::Fault(fault) = thing {
                self.apply(&self.catalogue.faults[*fault], severities, &mut state);
            }
        }
        let spreads = &self.catalogue.spreads;
        for (parameter, spread) in [
            (Parameter::FillValveKv, spreads.fill_valve_kv),
            (Parameter::PumpHead, spreads.pump_head),
            (Parameter::HeatingPower, spreads.heating_power),
        ] {
            state.parameters[parameter as usize] *= random.factor(spread);
        }
        state.pressure_bar = spreads.site_pressure_bar
            * state.get(Parameter::SitePressure)
            * random.factor(spreads.site_pressure);
        state.voltage = state.get(Parameter::SiteVoltage) * random.factor(spreads.site_voltage);
        state.allowed = random.factor(spreads.fill_allowed);
        let poured = random.chance(POURED);
        // What stands above the mark is let off before a run.
        let full = self.circuit.sump.full_l;
        state.level_l = if poured { full } else { self.circuit.filled_l(&state).min(full) };
        state
    }

    fn apply(&self, fault: &Fault, severities: &[(usize, f64)], state: &mut State) {
        for (dimension, (level, share)) in fault.dimensions().iter().zip(severities) {
            for effect in &dimension.effects {
                let value = match &effect.on {
                    Target::Parameter(parameter) => &mut state.parameters[*parameter as usize],
                    Target::Measurement(key) => {
                        let measurements = &self.catalogue.measurements;
                        let at = measurements.iter().position(|measurement| measurement.key == *key);
                        let Some(value) = at.and_then(|at| state.own.get_mut(at)) else { continue };
                        value
                    }
                };
                let by = effect.change.extents().get(*level).map(|extent| extent.at(*share));
                match (&effect.change, by) {
                    (Change::Scale(_), Some(factor)) => *value *= factor,
                    (Change::Add(_), Some(term)) => *value += term,
                    (_, None) => {}
                }
            }
        }
    }

    fn reading(
        &self,
        index: usize,
        measurement: &MeasurementModel,
        state: &State,
        things: &[Thing],
        random: &mut Random,
    ) -> Option<Observation> {
        let poured = state.level_l >= self.circuit.sump.full_l;
        if is_level_before(&measurement.key) && poured {
            return None;
        }
        let logarithmic = measurement.scale == Scale::Logarithmic;
        let on_scale = |value: f64| if logarithmic { libm::log(value) } else { value };
        let (low, high) = (on_scale(measurement.range.0), on_scale(measurement.range.1));
        let subsystem = measurement.reads.subsystem();
        let unknown = things.contains(&Thing::Unknown(subsystem));
        let stays = unknown && measurement.of_part && random.chance(UNKNOWN_LEAVES_AS_IT_IS);
        let state = if stays { &self.sound } else { state };
        let unknown = unknown && !stays;
        let slips = random.chance(measurement.misread.share);
        let predicted = on_scale(self.circuit.predict(&measurement.reads, index, state));
        let nearly = predicted.is_finite() && random.chance(measurement.misread.near);
        let read = if unknown || (slips && !nearly) {
            random.between(low, high)
        } else if slips {
            predicted + random.normal(0.0, measurement.near_slip())
        } else {
            predicted + random.normal(0.0, measurement.usual_uncertainty.hypot(measurement.model_error))
        };
        // the display ends where the range does; -∞ is nothing at all, ∞ never
        let read = read.clamp(low, high);
        let value = if logarithmic { libm::exp(read) } else { read };
        let seen = match measurement.judged.iter().find(|(_, (from, to))| (*from..*to).contains(&value)) {
            Some((choice, _)) => Seen::Choice(choice.as_str().to_owned()),
            None => self.censored(measurement, index, value),
        };
        let of_run = subsystem == Subsystem::Wash;
        Some(Observation {
            key: measurement.key.clone(),
            seen,
            level_before_l: None,
            run_s: of_run.then(|| self.circuit.run_s()),
        })
    }

    /// Readings of a wash run go with the level as it was read, or with the mark to which it was poured.
    fn tell_level(&self, observations: &mut [Observation]) {
        let read = observations.iter().find(|observation| is_level_before(&observation.key));
        let read = read.and_then(|observation| match observation.seen {
            Seen::Value(value) => Some(value),
            _ => None,
        });
        let level = read.unwrap_or(self.circuit.sump.full_l);
        for observation in observations.iter_mut().filter(|observation| observation.run_s.is_some()) {
            observation.level_before_l = Some(level);
        }
    }

    /// What takes too long is given up; a run ends when it ends.
    fn censored(&self, measurement: &MeasurementModel, index: usize, value: f64) -> Seen {
        let given_up = match measurement.reads {
            Reads::FirstFall => self.circuit.run_s(),
            Reads::FillTime | Reads::DrainTime | Reads::HeatingTime { .. } => {
                PATIENCE * self.circuit.predict(&measurement.reads, index, &self.sound)
            }
            _ => f64::INFINITY,
        };
        if value >= given_up { Seen::AtLeast(given_up) } else { Seen::Value(value) }
    }

    /// The worst that any fault, or a switch that is off, puts the inspection to, as it is read.
    fn look(
        &self,
        inspection: &Inspection,
        state: &State,
        things: &[Thing],
        random: &mut Random,
    ) -> Observation {
        let choices = inspection.choices.len();
        let mut truly = 0;
        let mut shown = |weights: &[(usize, f64)], random: &mut Random| {
            let mut left = random.uniform();
            for (choice, probability) in weights {
                left -= probability;
                if left < 0.0 {
                    truly = truly.max(*choice);
                    return;
                }
            }
        };
        for thing in things {
            match thing {
                Thing::Fault(fault) => {
                    let shows = self.catalogue.faults[*fault].shows.iter();
                    let of_this = shows.filter(|shows| shows.at == inspection.key);
                    let weights: Vec<_> = of_this
                        .filter_map(|shows| Some((inspection.choice(&shows.choice)?, shows.probability)))
                        .collect();
                    shown(&weights, random);
                }
                Thing::Unknown(subsystem) if self.bears_on(inspection, *subsystem) => {
                    let any = if inspection.of_part { UNKNOWN_SHOWS_ON_A_PART } else { UNKNOWN_SHOWS };
                    let each = any / choices as f64;
                    let weights: Vec<_> = (0..choices).map(|choice| (choice, each)).collect();
                    shown(&weights, random);
                }
                Thing::Unknown(_) => {}
            }
        }
        for follows in &inspection.follows {
            let is_on = match follows.switch {
                Switch::FillOutput => state.is_on(Parameter::FillOutput),
                Switch::WashOutput => state.is_on(Parameter::WashOutput),
                Switch::HeatOutput => state.is_on(Parameter::HeatOutput),
                Switch::DoorMade => state.is_on(Parameter::DoorMade),
                Switch::WashPowered => Circuit::powered(state),
            };
            if !is_on {
                let choice = inspection.choice(&follows.choice);
                let weights: Vec<_> =
                    choice.into_iter().map(|choice| (choice, follows.probability)).collect();
                shown(&weights, random);
            }
        }
        let read = random.weighted(&self.catalogue.read_as(inspection)[truly]);
        let seen = Seen::Choice(inspection.choices[read].as_str().to_owned());
        Observation { key: inspection.key.clone(), seen, level_before_l: None, run_s: None }
    }

    /// Whether any fault of the subsystem, or a switch that it decides, shows there.
    fn bears_on(&self, inspection: &Inspection, subsystem: Subsystem) -> bool {
        let shows = |fault: &Fault| {
            fault.subsystem == subsystem && fault.shows.iter().any(|shows| shows.at == inspection.key)
        };
        let follows = inspection.follows.iter().any(|follows| follows.switch.subsystem() == subsystem);
        follows || self.catalogue.faults.iter().any(shows)
    }
}

/// Whether it is how full the sump was before a wash run, which most pour to the mark.
fn is_level_before(key: &ObservationKey) -> bool {
    key.step() == "level_before"
}

/// A cycle that stopped by itself shows neither its heating nor its last water.
fn leave_out_what_was_not_reached(observations: &mut Vec<Observation>) {
    let stopped = observations.iter().any(|observation| {
        observation.key.as_str() == "full_cycle/outcome"
            && matches!(&observation.seen, Seen::Choice(choice) if choice == "stopped")
    });
    let not_reached = ["full_cycle/time_to_first_stage", "full_cycle/ph"];
    observations.retain(|observation| !stopped || !not_reached.contains(&observation.key.as_str()));
}

fn shares(share: impl Fn(Symptom) -> f64) -> Shares {
    Symptom::ALL.iter().map(|symptom| share(*symptom)).collect()
}
