//! The engine against plain enumeration of everything: all sets, all severities, all quadrature nodes,
//! all values of the shared nodes, one after the other from the definitions. The models are small and
//! coupled: site pressure, door and controls are shared between subsystems, and two inspections have
//! parents in several of them.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::{choice, complaint, from_level, key, value};
use crate::diagnosis::circuit::{Circuit, Context, State};
use crate::diagnosis::evidence::{self, Evidence, NumberEvidence};
use crate::diagnosis::likelihood::Seen;
use crate::diagnosis::node::Node;
use crate::diagnosis::prior::Prior;
use crate::diagnosis::tables::{Cutting, HypothesisKind};
use crate::diagnosis::{Case, Observation, Resolution, Tables, probabilities_down_to};
use crate::equipment::{
    Change, Effect, Extent, Fault, FaultCatalogue, MeasurementModel, Misread, Parameter, Reads, Switch,
    Target, demo_combi, demo_combi_faults,
};
use crate::vocabulary::Symptom;

/// A part of the demo catalogue. No spread between units, unless it is wanted, to keep it small.
fn small(faults: &[&str]) -> FaultCatalogue {
    let mut catalogue = demo_combi_faults().clone();
    catalogue.faults.retain(|fault| faults.contains(&fault.key.as_str()));
    assert_eq!(catalogue.faults.len(), faults.len());
    catalogue
}

/// Everything that can stand, from the definitions.
struct Enumeration<'a> {
    tables: &'a Tables,
    circuit: Circuit,
    evidence: &'a Evidence,
    prior: &'a Prior,
    /// Even parts into which each range of severities is cut.
    parts: usize,
    /// Weight by set of hypotheses.
    weights: BTreeMap<Vec<usize>, f64>,
    memory: HashMap<u64, f64>,
}

impl Enumeration<'_> {
    fn run(&mut self) {
        let count = self.tables.hypotheses.len();
        for code in 0..1usize << count {
            let members: Vec<usize> = (0..count).filter(|index| code >> index & 1 == 1).collect();
            // What nobody described stands alone in its subsystem.
            let hypotheses = &self.tables.hypotheses;
            let crowded = members.iter().any(|a| {
                hypotheses[*a].kind == HypothesisKind::Other
                    && members.iter().any(|b| a != b && hypotheses[*a].subsystem == hypotheses[*b].subsystem)
            });
            if crowded {
                continue;
            }
            let rate = self.prior.background + members.iter().map(|m| self.prior.calls[*m]).sum::<f64>();
            let odds: f64 = members.iter().map(|m| hypotheses[*m].odds * self.prior.found[*m]).product();
            let likelihood = self.likelihood(&members);
            self.weights.insert(members, rate * odds * likelihood);
        }
    }

    fn fault(&self, hypothesis: usize) -> Option<&Fault> {
        match self.tables.hypotheses[hypothesis].kind {
            HypothesisKind::Fault(fault) => Some(&self.tables.catalogue.faults[fault]),
            HypothesisKind::Other => None,
        }
    }

    /// Over severities, spreads and nodes.
    fn likelihood(&mut self, members: &[usize]) -> f64 {
        let sound = State { parameters: std::array::from_fn(sound_parameter), own: Vec::new() };
        let mut states = vec![(sound, 1.0)];
        for fault in members.iter().filter_map(|member| self.fault(*member)) {
            // What goes together, and what goes alone: each in the middles of the parts of each range.
            let alone = fault.effects.iter().filter(|effect| !effect.severities.is_empty());
            let together = fault.effects.iter().filter(|effect| effect.severities.is_empty()).collect();
            let groups = std::iter::once((&fault.severities, together))
                .chain(alone.map(|effect| (&effect.severities, vec![effect])));
            for (weights, effects) in groups.filter(|(_, effects): &(_, Vec<&Effect>)| !effects.is_empty()) {
                let total: f64 = weights.iter().sum();
                let mut next = Vec::new();
                for (level, weight) in weights.iter().enumerate() {
                    let ranges = |effect: &&Effect| {
                        let of_parameter = matches!(effect.on, Target::Parameter(_));
                        of_parameter && matches!(effect.change.extents()[level], Extent::Range(..))
                    };
                    let parts = if effects.iter().any(ranges) { self.parts } else { 1 };
                    for part in 0..parts {
                        let share = (part as f64 + 0.5) / parts as f64;
                        for (state, p) in &states {
                            let mut state: State = state.clone();
                            for effect in &effects {
                                let Target::Parameter(parameter) = effect.on else { continue };
                                let old = &mut state.parameters[parameter as usize];
                                match &effect.change {
                                    Change::Scale(factors) => *old *= place(factors[level], share),
                                    Change::Add(terms) => *old += place(terms[level], share),
                                }
                            }
                            next.push((state, p * weight / total / parts as f64));
                        }
                    }
                }
                states = next;
            }
        }
        let spreads = self.tables.catalogue.spreads.clone();
        // The standard normal on three and five Gauss-Hermite nodes, from their defining polynomials.
        let three = [(-3.0_f64.sqrt(), 1.0 / 6.0), (0.0, 2.0 / 3.0), (3.0_f64.sqrt(), 1.0 / 6.0)];
        let (inner, outer) = ((5.0 - 10.0_f64.sqrt()).sqrt(), (5.0 + 10.0_f64.sqrt()).sqrt());
        let (near, far) = ((7.0 + 2.0 * 10.0_f64.sqrt()) / 60.0, (7.0 - 2.0 * 10.0_f64.sqrt()) / 60.0);
        let five = [(-outer, far), (-inner, near), (0.0, 8.0 / 15.0), (inner, near), (outer, far)];
        let heated = |of: &NumberEvidence| {
            let reads = &self.tables.catalogue.measurements[of.measurement].reads;
            matches!(reads, Reads::HeatingTime { .. })
        };
        let powers = if self.evidence.numbers.iter().any(heated) { &three[..] } else { &[(0.0, 1.0)] };
        let mut sum = 0.0;
        for (state, p) in &states {
            for (valve, of_valve) in five {
                for ((head, of_head), (power, of_power)) in
                    three.into_iter().flat_map(|head| powers.iter().map(move |power| (head, *power)))
                {
                    let mut state = state.clone();
                    state.parameters[Parameter::FillValveKv as usize] *=
                        (valve * spreads.fill_valve_kv).exp();
                    state.parameters[Parameter::PumpHead as usize] *= (head * spreads.pump_head).exp();
                    state.parameters[Parameter::HeatingPower as usize] *=
                        (power * spreads.heating_power).exp();
                    sum += p * of_valve * of_head * of_power * self.over_nodes(members, &state);
                }
            }
        }
        sum
    }

    fn over_nodes(&mut self, members: &[usize], state: &State) -> f64 {
        let catalogue = &self.tables.catalogue;
        let sound = Context::sound(catalogue);
        let is_read =
            |of: &NumberEvidence| catalogue.measurements[of.measurement].reads == Reads::FilledVolume;
        let level_read = self.evidence.numbers.iter().any(is_read);
        let mut sum = 0.0;
        let distribution = |node: Node, given: &Context| self.circuit.own_node(node, state, catalogue, given);
        let pressures = distribution(Node::SitePressure, &sound);
        let voltages = distribution(Node::SiteVoltage, &sound);
        let leaks = distribution(Node::DoorLeak, &sound);
        let switches = [Node::FillOutput, Node::WashOutput, Node::DoorMade, Node::HeatOutput]
            .map(|node| distribution(node, &sound));
        for code in 0..16 {
            let bits = [code & 1, code >> 1 & 1, code >> 2 & 1, code >> 3 & 1];
            let p: f64 = (0..4).map(|at| switches[at][bits[at]]).product();
            if p == 0.0 {
                continue;
            }
            let mut context = sound;
            context.set(Node::FillOutput, bits[0] as f64);
            context.set(Node::WashOutput, bits[1] as f64);
            context.set(Node::DoorMade, bits[2] as f64);
            context.set(Node::HeatOutput, bits[3] as f64);
            context.set(Node::WashPowered, (bits[1] * bits[2]) as f64);
            let choices = self.choices(members, &context);
            for (pressure, of_pressure) in Node::SitePressure.grid().iter().zip(&pressures) {
                for (voltage, of_voltage) in Node::SiteVoltage.grid().iter().zip(&voltages) {
                    for (leak, of_leak) in Node::DoorLeak.grid().iter().zip(&leaks) {
                        let p = p * of_pressure * of_voltage * of_leak;
                        if p == 0.0 {
                            continue;
                        }
                        context.set(Node::SitePressure, *pressure);
                        context.set(Node::SiteVoltage, *voltage);
                        context.set(Node::DoorLeak, *leak);
                        let evidence = self.evidence;
                        let levels = if level_read { self.levels(state, &context) } else { vec![(1.0, 1.0)] };
                        for (level, of_level) in levels {
                            context.set(Node::FilledVolume, level);
                            let mut product = p * choices * of_level;
                            for number in 0..evidence.numbers.len() {
                                product *= number_likelihood(
                                    self.tables,
                                    evidence,
                                    &self.circuit,
                                    &mut self.memory,
                                    members,
                                    number,
                                    state,
                                    &context,
                                );
                            }
                            sum += product;
                        }
                    }
                }
            }
        }
        sum
    }

    /// What stands in the sump, with probabilities: over what came, and where the sensor ends the fill.
    fn levels(&self, state: &State, context: &Context) -> Vec<(f64, f64)> {
        let mut context = *context;
        let catalogue = &self.tables.catalogue;
        let came = self.circuit.own_node(Node::Filled, state, catalogue, &context);
        let mut levels = Vec::new();
        for (share, of_share) in Node::Filled.grid().iter().zip(came).filter(|(_, p)| *p > 0.0) {
            context.set(Node::Filled, *share);
            let stands = self.circuit.own_node(Node::FilledVolume, state, catalogue, &context);
            let stands = Node::FilledVolume.grid().iter().zip(stands).filter(|(_, p)| *p > 0.0);
            levels.extend(stands.map(|(level, of_level)| (*level, of_share * of_level)));
        }
        levels
    }

    /// Noisy-MAX and confusion from their definitions.
    fn choices(&self, members: &[usize], context: &Context) -> f64 {
        let catalogue = &self.tables.catalogue;
        let mut product = 1.0;
        for seen in &self.evidence.choices {
            let inspection = &catalogue.inspections[seen.inspection];
            let count = inspection.choices.len();
            let mut parents: Vec<Vec<f64>> = Vec::new();
            for member in members {
                let Some(fault) = self.fault(*member) else {
                    let of = self.tables.inspections[seen.inspection].parents[*member].is_some();
                    let any = if inspection.of_part { 0.02 } else { 0.5 };
                    parents.extend(of.then(|| vec![any / count as f64; count]));
                    continue;
                };
                let mut shows = vec![0.0; count];
                for entry in fault.shows.iter().filter(|entry| entry.at == inspection.key) {
                    shows[inspection.choice(&entry.choice).unwrap()] += entry.probability;
                }
                parents.push(shows);
            }
            for follows in &inspection.follows {
                let node = match follows.switch {
                    Switch::FillOutput => Node::FillOutput,
                    Switch::WashOutput => Node::WashOutput,
                    Switch::HeatOutput => Node::HeatOutput,
                    Switch::DoorMade => Node::DoorMade,
                    Switch::WashPowered => Node::WashPowered,
                };
                if context.get(node) < 0.5 {
                    let mut shows = vec![0.0; count];
                    shows[inspection.choice(&follows.choice).unwrap()] = follows.probability;
                    parents.push(shows);
                }
            }
            // Each parent draws its choice; the furthest down the list is the true one.
            let mut truth = vec![0.0; count];
            truth[0] = 1.0;
            for shows in parents {
                let stays = 1.0 - shows.iter().skip(1).sum::<f64>();
                let mut next = vec![0.0; count];
                for (old, p) in truth.iter().enumerate() {
                    next[old] += p * stays;
                    for (new, q) in shows.iter().enumerate().skip(1) {
                        next[old.max(new)] += p * q;
                    }
                }
                truth = next;
            }
            let confusion = catalogue.read_as(inspection);
            let read = |row: &[f64]| match seen.from.len() {
                1 => row[seen.choice],
                // Looks alike: each by itself, or the first one made again.
                looks => {
                    0.97 * row[seen.choice].powi(i32::try_from(looks).unwrap()) + 0.03 * row[seen.choice]
                }
            };
            product *= truth.iter().zip(&confusion).map(|(p, row)| p * read(row)).sum::<f64>();
        }
        product
    }
}

/// Parts of a stretch, for Simpson's rule.
const STEPS: i32 = 1600;

#[expect(clippy::too_many_arguments, reason = "taken apart so that the memory can be borrowed")]
fn number_likelihood(
    tables: &Tables,
    evidence: &Evidence,
    circuit: &Circuit,
    memory: &mut HashMap<u64, f64>,
    members: &[usize],
    at: usize,
    state: &State,
    context: &Context,
) -> f64 {
    let number = &evidence.numbers[at];
    let measurement = &tables.catalogue.measurements[number.measurement];
    let subsystem = measurement.reads.subsystem();
    let unknown = members.iter().any(|member| {
        tables.hypotheses[*member].kind == HypothesisKind::Other
            && tables.hypotheses[*member].subsystem == subsystem
    });
    if unknown {
        let width = number.comparable.high - number.comparable.low;
        return match number.comparable.seen {
            _ if number.repeated.is_some() => number.under_the_unknown,
            Seen::Exactly(_) => 1.0 / width,
            seen => anything(seen, number.comparable.low, number.comparable.high),
        };
    }
    let values = state.parameters.iter().copied().chain(Node::ALL.iter().map(|node| context.get(*node)));
    // FNV-1a over whole words: a fingerprint of reading, state and nodes.
    let code = values.fold(0xcbf2_9ce4_8422_2325 ^ at as u64, |code: u64, value| {
        (code ^ value.to_bits().rotate_left(17)).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(29)
    });
    *memory.entry(code).or_insert_with(|| {
        let row = circuit.predict(&measurement.reads, None, state, context);
        let on_scale = |predicted: f64| match measurement.scale {
            crate::quantity::Scale::Linear => predicted,
            crate::quantity::Scale::Logarithmic => predicted.ln(),
        };
        // The voltage of the site and the level stand for a stretch, here summed by Simpson's rule; the
        // readings of the wash are taken with a full sump.
        let (low, high) = match measurement.reads {
            Reads::SiteVoltage | Reads::FilledVolume => (on_scale(row[0]), on_scale(row[1])),
            _ => (on_scale(row[row.len() - 1]), on_scale(row[row.len() - 1])),
        };
        let share = |step: i32| f64::from(step) / f64::from(STEPS);
        let at = |step: i32| number_density(measurement, number, low + (high - low) * share(step));
        if low >= high {
            return number_density(measurement, number, low);
        }
        let weight = |step: i32| match step {
            0 | STEPS => 1.0,
            odd if odd % 2 == 1 => 4.0,
            _ => 2.0,
        };
        (0..=STEPS).map(|step| weight(step) * at(step)).sum::<f64>() / f64::from(3 * STEPS)
    })
}

/// Normal errors and slips, from the definition.
fn number_density(measurement: &MeasurementModel, number: &NumberEvidence, predicted: f64) -> f64 {
    if let Some(repeated) = &number.repeated {
        return repeated.over(predicted, predicted).total();
    }
    let Misread { share, near } = measurement.misread;
    let near = if predicted.is_finite() { near } else { 0.0 };
    let of = &number.comparable;
    let below = |y: f64, sigma: f64| {
        if predicted.is_infinite() {
            return if predicted < y { 1.0 } else { 0.0 };
        }
        0.5 * statrs::function::erf::erfc(-(y - predicted) / sigma / 2.0_f64.sqrt())
    };
    let given = |sigma: f64| match of.seen {
        Seen::Exactly(_) if predicted.is_infinite() => 0.0,
        Seen::Exactly(y) => {
            let z = (y - predicted) / sigma;
            (-0.5 * z * z).exp() / (sigma * (2.0 * std::f64::consts::PI).sqrt())
        }
        Seen::AtLeast(y) => 1.0 - below(y, sigma),
        Seen::AtMost(y) => below(y, sigma),
        Seen::Between(from, to) => below(to, sigma) - below(from, sigma),
    };
    let anything = anything(of.seen, of.low, of.high);
    let nearly = if near > 0.0 { near * given(measurement.near_slip()) } else { 0.0 };
    (1.0 - share) * given(of.sigma) + share * (nearly + (1.0 - near) * anything)
}

fn anything(seen: Seen, low: f64, high: f64) -> f64 {
    let width = high - low;
    match seen {
        Seen::Exactly(_) => 1.0 / width,
        Seen::AtLeast(y) => ((high - y) / width).max(0.01),
        Seen::AtMost(y) => ((y - low) / width).max(0.01),
        Seen::Between(from, to) => ((to.min(high) - from.max(low)) / width).max(0.01),
    }
}

/// A place in a range, which runs by factors.
fn place(extent: Extent, share: f64) -> f64 {
    match extent {
        Extent::Point(value) => value,
        Extent::Range(from, to) if from * to > 0.0 => (from.ln() + share * (to.ln() - from.ln())).exp(),
        Extent::Range(from, to) => from + share * (to - from),
    }
}

fn sound_parameter(index: usize) -> f64 {
    let zero = index == Parameter::OpenElements as usize || index == Parameter::DoorLeak as usize;
    if zero { 0.0 } else { 1.0 }
}

fn check(catalogue: &FaultCatalogue, case: &Case) {
    check_cut(catalogue, case, 1);
}

fn check_cut(catalogue: &FaultCatalogue, case: &Case, parts: usize) {
    let resolution = Resolution { severities: Cutting::Even(parts), ..Resolution::EXACT };
    let tables = Tables::compile_at(resolution, catalogue, demo_combi(), &[]).unwrap();
    let evidence = evidence::take(&tables, case);
    assert_eq!(evidence.set_aside, Vec::new());
    let prior = Prior::of(&tables, case);
    let mut enumeration = Enumeration {
        tables: &tables,
        circuit: Circuit::new(demo_combi()).unwrap(),
        evidence: &evidence,
        prior: &prior,
        parts,
        weights: BTreeMap::new(),
        memory: HashMap::new(),
    };
    enumeration.run();
    let z: f64 = enumeration.weights.values().sum();
    let answer = probabilities_down_to(&tables, case, 1e-9, 400);
    let mut compared = 0;
    let mut largest: f64 = 0.0;
    for set in &answer.sets {
        let keys: BTreeSet<&str> =
            set.faults.iter().chain(&set.external_states).map(crate::text::Key::as_str).collect();
        let members: Vec<usize> = (0..tables.hypotheses.len())
            .filter(|index| match enumeration.fault(*index) {
                Some(fault) => keys.contains(fault.key.as_str()),
                None => set.other_in.contains(&tables.hypotheses[*index].subsystem),
            })
            .collect();
        let expected = enumeration.weights[&members] / z;
        largest = largest.max((set.probability - expected).abs());
        compared += 1;
    }
    assert!(compared > 15, "{compared}");
    assert!(largest < 1e-9, "sets differ by {largest}");
    for (fault, probability) in &answer.faults {
        let index = (0..tables.hypotheses.len())
            .find(|i| enumeration.fault(*i).is_some_and(|f| f.key == *fault))
            .unwrap();
        let expected: f64 =
            enumeration.weights.iter().filter(|(set, _)| set.contains(&index)).map(|(_, w)| w).sum();
        assert!((probability - expected / z).abs() < 1e-9, "{fault} {probability} {}", expected / z);
    }
    assert!((answer.nothing_found - enumeration.weights[&Vec::new()] / z).abs() < 1e-9);
    // The evidence itself, against that of the same case without readings.
    let without = Case { observations: Vec::new(), ..case.clone() };
    let plain = probabilities_down_to(&tables, &without, 1e-9, 10);
    let prior_weight: f64 = enumeration
        .weights
        .keys()
        .map(|members| {
            let rate = prior.background + members.iter().map(|m| prior.calls[*m]).sum::<f64>();
            rate * members.iter().map(|m| tables.hypotheses[*m].odds).product::<f64>()
        })
        .sum();
    let log = answer.log_evidence - plain.log_evidence;
    assert!((log - (z / prior_weight).ln()).abs() < 1e-9, "{log} {}", (z / prior_weight).ln());
}

#[test]
fn coupled_by_pressure_and_door() {
    let catalogue =
        small(&["supply_pressure_low", "fill_valve_weak", "door_switch_fails", "wash_pump_clogged"]);
    let full = from_level(2.9);
    let case = complaint(
        Symptom::DoesNotClean,
        vec![
            value("inlet_pressure/static_pressure", 1.6),
            value("inlet_pressure/dynamic_pressure", 1.55),
            value("fill_time/fill_time", 27.0),
            choice("intake/water_heard", "not_heard"),
            choice("door_switch/shut_recognised", "when_pushed"),
            choice("wash_flow_hold/strength", "weak").under(full),
            Observation::at_least(key("wash_flow_hold/hold_time"), 60.0).under(full),
        ],
    );
    check(&catalogue, &case);
}

/// Ranges of three faults, each cut into three, over two subsystems.
#[test]
fn ranges_cut_into_several_nodes() {
    let catalogue =
        small(&["supply_pressure_low", "fill_valve_weak", "supply_valve_part_shut", "output_dead"]);
    let case = complaint(
        Symptom::DoesNotClean,
        vec![
            value("inlet_pressure/static_pressure", 2.2),
            value("inlet_pressure/dynamic_pressure", 1.4),
            value("fill_time/fill_time", 24.0),
        ],
    );
    check_cut(&catalogue, &case, 3);
}

#[test]
fn coupled_by_what_came_into_the_sump() {
    let catalogue =
        small(&["supply_pressure_low", "fill_valve_weak", "fill_valve_coil_open", "level_sensor_fouled"]);
    let mut case = complaint(
        Symptom::DoesNotClean,
        vec![
            value("inlet_pressure/static_pressure", 2.6),
            value("fill_time/fill_time", 66.0),
            value("sump_holds/filled", 1.7),
        ],
    );
    check(&catalogue, &case);
    case.observations.remove(1);
    check(&catalogue, &case);
    case.observations[1] = value("sump_holds/filled", 0.0);
    check(&catalogue, &case);
}

#[test]
fn coupled_by_whether_the_motor_is_fed() {
    let catalogue = small(&["output_dead", "door_switch_fails", "wash_motor_dead", "spray_blocked"]);
    let full = from_level(2.9);
    let mut case = complaint(
        Symptom::DoesNotClean,
        vec![
            choice("wash_flow_hold/sound", "silent"),
            choice("wash_flow_hold/pattern", "dry"),
            choice("door_switch/shut_recognised", "never"),
        ],
    );
    check(&catalogue, &case);
    case.observations[2] = value("wash_flow_hold/motor_current", 0.02).under(full);
    check(&catalogue, &case);
}

#[test]
fn coupled_by_controls_and_a_shared_inspection() {
    let catalogue =
        small(&["fill_valve_coil_open", "fill_valve_weak", "output_dead", "wash_motor_dead", "misuse"]);
    let case = complaint(
        Symptom::NoWaterHeard,
        vec![
            value("inlet_pressure/static_pressure", 5.2),
            value("inlet_pressure/dynamic_pressure", 5.3),
            Observation::at_least(key("fill_time/fill_time"), 90.0),
            value("start_up_catch/caught", 0.0),
            choice("intake/water_heard", "not_heard"),
            choice("intake/cancelled", "no"),
            choice("commanded_volts/fill_valve_output", "present"),
            choice("full_cycle/outcome", "stopped"),
            choice("full_cycle/cleanliness", "dirty"),
        ],
    );
    check(&catalogue, &case);
}

#[test]
fn coupled_by_the_output_of_the_heating() {
    let catalogue = small(&["element_open", "supply_voltage_low", "wiring_corroded", "misuse"]);
    let mut case = complaint(
        Symptom::NoSteam,
        vec![
            value("commanded_volts/supply", 205.0),
            choice("steam/strength", "none"),
            Observation::at_least(key("staged_heating/time_to_second_stage"), 900.0),
            choice("intake/still_heats", "yes"),
            choice("wiring_look/connectors", "sound"),
        ],
    );
    check(&catalogue, &case);
    case.observations[1] = choice("steam/strength", "weak");
    case.observations[2] = value("full_cycle/time_to_first_stage", 180.0);
    check(&catalogue, &case);
}

#[test]
fn readings_taken_again() {
    let catalogue = small(&["supply_pressure_low", "fill_valve_weak", "gasket_torn", "output_dead"]);
    let case = complaint(
        Symptom::DoesNotClean,
        vec![
            value("inlet_pressure/static_pressure", 2.9),
            value("fill_time/fill_time", 13.1),
            value("fill_time/fill_time", 27.0),
            Observation::at_least(key("fill_time/fill_time"), 60.0),
            choice("seal_and_buffer_look/gasket", "torn"),
            choice("seal_and_buffer_look/gasket", "torn"),
        ],
    );
    check(&catalogue, &case);
}

#[test]
fn contradictory_readings_of_one_circuit() {
    let catalogue = small(&["wash_motor_dead", "wash_pump_fades", "run_capacitor_weak", "gasket_torn"]);
    let full = from_level(2.9);
    let case = complaint(
        Symptom::CleansPartly,
        vec![
            choice("wash_flow_hold/strength", "strong").under(full),
            value("wash_flow_hold/motor_current", 0.06).under(full),
            value("wash_flow_hold/flow/last_fifth_share", 71.0).under(full),
            choice("dead_electrical/wash_motor_winding", "open"),
            choice("seal_and_buffer_look/gasket", "whole"),
        ],
    );
    check(&catalogue, &case);
}
