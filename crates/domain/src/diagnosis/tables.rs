//! A catalogue of faults made ready for computing: every set of up to four faults of a subsystem with
//! its prior and the states it leads to, and what each state makes of each reading. Made once for each
//! version of knowledge and model; all that depends on a case comes later.

mod inspection;
mod sets;
mod severities;
mod sound;

pub(super) use inspection::{InspectionTable, thresholds};
pub(super) use sets::{FaultSet, THREE};
pub use severities::Cutting;
pub(super) use sound::{Side, SoundReading};

use std::collections::HashMap;
use std::sync::OnceLock;

use super::circuit::{Circuit, Context, State};
use super::likelihood::on_scale;
use super::node::Node;
use crate::equipment::{FaultCatalogue, MeasurementModel, Model, Parameter, Reads, Subsystem};
use crate::physics::fill::FillFlow;
use crate::procedure::Procedure;
use crate::quantity::QuantityKind;
use crate::violation::Violation;

/// What can stand: a fault of the catalogue, or something of a subsystem that nobody described.
#[derive(Debug, Clone)]
pub(super) struct Hypothesis {
    pub kind: HypothesisKind,
    pub subsystem: Subsystem,
    /// λ·d.
    pub odds: f64,
    /// κ, per year.
    pub calls_per_year: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum HypothesisKind {
    /// Index into the catalogue's faults.
    Fault(usize),
    Other,
}

/// How often an undescribed fault makes people call while it stands, per year.
const CALLS_OF_THE_UNKNOWN: f64 = 6.0;

/// Knowledge of one model, compiled.
pub struct Tables {
    pub(super) catalogue: FaultCatalogue,
    pub(super) model: Model,
    pub(super) procedures: Vec<Procedure>,
    pub(super) circuit: Circuit,
    pub(super) hypotheses: Vec<Hypothesis>,
    pub(super) subsystems: Vec<SubsystemTables>,
    pub(super) inspections: Vec<InspectionTable>,
    /// By measurement of the catalogue.
    pub(super) sound: Vec<Option<SoundReading>>,
    /// Groups of hypotheses that no test tells apart.
    pub(super) look_alikes: Vec<Vec<usize>>,
    pub(super) identity: String,
}

/// One subsystem, compiled.
pub(super) struct SubsystemTables {
    pub subsystem: Subsystem,
    /// Indices of hypotheses.
    pub members: Vec<usize>,
    /// The first is the empty one.
    pub sets: Vec<FaultSet>,
    /// Whether the controls or the door can keep it from working at all.
    pub switch: Option<Node>,
    /// The shared nodes that it decides, each with the node on which it depends in turn.
    pub owns: &'static [(Node, Option<Node>)],
    /// From the coarsest, which tells fewer measurements apart, to one for all measurements.
    views: Vec<LateView>,
    resolution: Resolution,
}

/// A view that is made when it is first needed: some are hardly ever.
struct LateView {
    /// Indices into the catalogue's measurements.
    measured: Vec<usize>,
    view: OnceLock<View>,
}

/// The states of a subsystem as far as some measurements tell them apart.
pub(super) struct View {
    pub states: usize,
    /// By set, the states to which it leads over all severities and spreads, with probabilities.
    pub reached: Vec<Vec<(u32, f64)>>,
    pub owns: Vec<OwnedNode>,
    pub measurements: Vec<MeasurementTable>,
}

impl SubsystemTables {
    /// The coarsest view that tells all these measurements apart (indices into the catalogue's).
    pub fn view_for(&self, measurements: &[usize]) -> usize {
        self.views
            .iter()
            .position(|view| measurements.iter().all(|measurement| view.measured.contains(measurement)))
            .unwrap_or(self.views.len() - 1)
    }

    /// Whether it holds what a node that is off shows at inspections. Nobody owns whether the motor is
    /// fed, which the controls and the door decide together: the wash holds it.
    pub fn holds(&self, node: Node) -> bool {
        match node {
            Node::WashPowered => self.subsystem == Subsystem::Wash,
            _ => self.owns.iter().any(|own| own.0 == node),
        }
    }
}

impl View {
    pub fn table(&self, measurement: usize) -> Option<&MeasurementTable> {
        self.measurements.iter().find(|table| table.measurement == measurement)
    }
}

/// A shared node that this subsystem decides, with the probabilities of its values by state.
pub(super) struct OwnedNode {
    pub node: Node,
    /// The node on which it depends in turn, its values running slower than the node's own.
    pub given: Option<Node>,
    pub on: Vec<f64>,
    /// The same while the subsystem is switched off: then its state does not matter.
    pub off: Vec<f64>,
}

impl OwnedNode {
    /// Entries of one state.
    pub fn stride(&self) -> usize {
        self.node.size() * self.given.map_or(1, Node::size)
    }
}

/// What the states of a subsystem predict for one measurement.
pub(super) struct MeasurementTable {
    /// Index into the catalogue's measurements.
    pub measurement: usize,
    /// Nodes on which it depends beside the switch, the last running fastest.
    pub nodes: Vec<Node>,
    pub switched: bool,
    /// Whether predictions differ with the level in the sump; each row then has one value per level.
    pub by_level: bool,
    /// Whether a row is the two ends of a stretch of values.
    pub is_stretch: bool,
    /// Different predictions, on the measurement's scale, row behind row.
    pub predictions: Vec<f64>,
    /// Values of a row.
    pub width: usize,
    /// By state and value of the nodes, the row.
    pub index: Vec<u32>,
    /// By value of the nodes, the row of what is read while the subsystem is switched off, whatever its
    /// state.
    pub off: Vec<u32>,
}

impl MeasurementTable {
    pub fn rows(&self) -> std::slice::ChunksExact<'_, f64> {
        self.predictions.chunks_exact(self.width)
    }

    pub fn row(&self, index: usize) -> &[f64] {
        &self.predictions[index * self.width..][..self.width]
    }

    pub fn combinations(&self) -> usize {
        self.nodes.iter().map(|node| node.size()).product()
    }

    /// The nodes on which it depends while the subsystem is switched off.
    pub fn nodes_when_off(&self) -> &[Node] {
        if self.off.iter().all(|row| *row == self.off[0]) { &[] } else { &self.nodes }
    }
}

/// How finely states and predictions are told apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resolution {
    /// States whose parameters differ by less than this factor (as a logarithm) are taken as one; 0
    /// keeps all of them apart.
    pub states: f64,
    /// Predictions that differ by less than this share of their own model error are taken as one.
    pub predictions: f64,
    pub severities: Cutting,
}

impl Resolution {
    /// Well inside the model's own error, which is 3 % and more.
    pub const USUAL: Self = Self { states: 0.025, predictions: 0.2, severities: Cutting::AsNeeded };
    pub const EXACT: Self = Self { states: 0.0, predictions: 0.0, severities: Cutting::Even(1) };
}

impl Tables {
    /// Compiles a catalogue for its model. `procedures` are the tests that may be proposed.
    pub fn compile(
        catalogue: &FaultCatalogue,
        model: &Model,
        procedures: &[Procedure],
    ) -> Result<Self, Vec<Violation>> {
        Self::compile_at(Resolution::USUAL, catalogue, model, procedures)
    }

    /// Compiles at another resolution than the usual one.
    pub fn compile_at(
        resolution: Resolution,
        catalogue: &FaultCatalogue,
        model: &Model,
        procedures: &[Procedure],
    ) -> Result<Self, Vec<Violation>> {
        catalogue.validate(model)?;
        let circuit = Circuit::new(model)
            .map_err(|error| vec![Violation { pointer: "/model".into(), detail: error.to_string() }])?;
        let hypotheses = hypotheses(catalogue);
        let inspections = inspection::tables(catalogue, &hypotheses);
        let sound = sound::readings(catalogue, &hypotheses);
        let subsystems = Subsystem::ALL
            .into_iter()
            .filter_map(|subsystem| compile(subsystem, catalogue, &hypotheses, resolution))
            .collect();
        let mut tables = Self {
            catalogue: catalogue.clone(),
            model: model.clone(),
            procedures: (procedures.iter().filter(|procedure| procedure.applies_to(model)))
                .map(|procedure| procedure.shown(Some(model)))
                .collect(),
            circuit,
            hypotheses,
            subsystems,
            inspections,
            sound,
            look_alikes: Vec::new(),
            identity: super::identity::of_knowledge(catalogue, model, procedures),
        };
        tables.look_alikes = super::look_alikes::find(&tables);
        Ok(tables)
    }

    /// One of the views of a subsystem (indices into the subsystems and their views).
    pub(super) fn view(&self, subsystem: usize, view: usize) -> &View {
        let of = &self.subsystems[subsystem];
        let late = &of.views[view];
        late.view.get_or_init(|| {
            make_view(
                of.subsystem,
                &late.measured,
                &of.sets,
                &self.catalogue,
                &self.circuit,
                &self.hypotheses,
                of.resolution,
            )
        })
    }

    pub fn catalogue(&self) -> &FaultCatalogue {
        &self.catalogue
    }

    /// The model for which they were made.
    pub fn model(&self) -> &Model {
        &self.model
    }

    /// The procedures that apply to the model, as they are shown for it.
    pub fn procedures(&self) -> &[Procedure] {
        &self.procedures
    }

    /// SHA-256, in hexadecimal, of everything the tables were made from and of the engine's version.
    pub fn identity(&self) -> &str {
        &self.identity
    }
}

/// The faults that can arise at all, and one undescribed fault for each subsystem of the machine; these
/// make the catalogue's share of all calls.
fn hypotheses(catalogue: &FaultCatalogue) -> Vec<Hypothesis> {
    let mut hypotheses: Vec<Hypothesis> = catalogue
        .faults
        .iter()
        .enumerate()
        .filter(|(_, fault)| fault.odds() > 0.0)
        .map(|(index, fault)| Hypothesis {
            kind: HypothesisKind::Fault(index),
            subsystem: fault.subsystem,
            odds: fault.odds(),
            calls_per_year: fault.calls_while_standing(),
        })
        .collect();
    let of_machine: Vec<Subsystem> = Subsystem::ALL
        .into_iter()
        .filter(|subsystem| {
            catalogue.faults.iter().any(|fault| fault.subsystem == *subsystem && !fault.is_external())
        })
        .collect();
    let share = catalogue.other_share / (1.0 - catalogue.other_share);
    let calls = catalogue.calls_per_year() * share / of_machine.len().max(1) as f64;
    hypotheses.extend(of_machine.into_iter().map(|subsystem| Hypothesis {
        kind: HypothesisKind::Other,
        subsystem,
        odds: calls / CALLS_OF_THE_UNKNOWN,
        calls_per_year: CALLS_OF_THE_UNKNOWN,
    }));
    hypotheses
}

/// `None` for a subsystem of which nothing is catalogued and that decides no shared node.
fn compile(
    subsystem: Subsystem,
    catalogue: &FaultCatalogue,
    hypotheses: &[Hypothesis],
    resolution: Resolution,
) -> Option<SubsystemTables> {
    let members: Vec<usize> =
        (0..hypotheses.len()).filter(|index| hypotheses[*index].subsystem == subsystem).collect();
    let owns = owned_nodes(subsystem);
    if members.is_empty() && owns.is_empty() {
        return None;
    }
    let sets = sets::enumerate(&members, hypotheses);
    let measured: Vec<usize> = (0..catalogue.measurements.len())
        .filter(|index| catalogue.measurements[*index].reads.subsystem() == subsystem)
        .collect();
    let reads = |index: &usize| &catalogue.measurements[*index].reads;
    let without_tap: Vec<usize> =
        measured.iter().copied().filter(|index| *reads(index) != Reads::PressureAfterStrainer).collect();
    let usual: Vec<usize> =
        without_tap.iter().copied().filter(|index| !matches!(reads(index), Reads::Own { .. })).collect();
    // Only these have states enough for more than one view to be worth its place.
    let mut of_views = match subsystem {
        Subsystem::Fill | Subsystem::Wash => vec![usual, without_tap, measured],
        _ => vec![measured],
    };
    of_views.dedup();
    let views = of_views.into_iter().map(|measured| LateView { measured, view: OnceLock::new() }).collect();
    Some(SubsystemTables {
        subsystem,
        members,
        sets,
        switch: Circuit::switch_of(subsystem).first().copied(),
        owns,
        views,
        resolution,
    })
}

fn make_view(
    subsystem: Subsystem,
    measured: &[usize],
    sets: &[FaultSet],
    catalogue: &FaultCatalogue,
    circuit: &Circuit,
    hypotheses: &[Hypothesis],
    resolution: Resolution,
) -> View {
    let switch = Circuit::switch_of(subsystem).first().copied();
    let after_strainer =
        measured.iter().any(|index| catalogue.measurements[*index].reads == Reads::PressureAfterStrainer);
    // One more dimension: coarser steps keep the number of states in bounds.
    let coarser = if after_strainer { 1.6 } else { 1.0 };
    let step = Resolution { states: coarser * resolution.states, ..resolution };
    let (reached, states) = sets::states(subsystem, measured, sets, catalogue, circuit, hypotheses, step);
    let sound = Context::sound(catalogue);
    let owns = owned_nodes(subsystem)
        .iter()
        .map(|(node, given)| {
            let distribution = |states: &[State], on: f64| {
                let mut values = Vec::new();
                for state in states {
                    for given_value in given.map_or(&[1.0][..], Node::grid) {
                        let mut context = sound;
                        if let Some(given) = given {
                            context.set(*given, *given_value);
                        }
                        if let Some(switch) = switch {
                            context.set(switch, on);
                        }
                        values.extend(circuit.own_node(*node, state, catalogue, &context));
                    }
                }
                values
            };
            OwnedNode {
                node: *node,
                given: *given,
                on: distribution(&states, 1.0),
                off: distribution(&states[..1], 0.0),
            }
        })
        .collect();
    let predictor = Predictor::new(subsystem, &states, circuit, sound, resolution);
    let mut own = 0;
    let mut measurements = Vec::new();
    for index in measured {
        let measurement = &catalogue.measurements[*index];
        let own_index = matches!(measurement.reads, Reads::Own { .. }).then_some(own);
        own += usize::from(own_index.is_some());
        measurements.extend(predictor.table(*index, measurement, own_index));
    }
    View { states: states.len(), reached, owns, measurements }
}

/// The shared nodes that a subsystem decides, each with the node on which it depends in turn.
const fn owned_nodes(subsystem: Subsystem) -> &'static [(Node, Option<Node>)] {
    match subsystem {
        Subsystem::WaterSupply => &[(Node::SitePressure, None)],
        Subsystem::PowerSupply => &[(Node::SiteVoltage, None)],
        Subsystem::Control => &[(Node::FillOutput, None), (Node::WashOutput, None), (Node::HeatOutput, None)],
        Subsystem::Door => &[(Node::DoorMade, None), (Node::DoorLeak, None)],
        Subsystem::Fill => &[(Node::Filled, Some(Node::SitePressure))],
        Subsystem::Sump => &[(Node::FilledVolume, Some(Node::Filled))],
        _ => &[],
    }
}

/// Asks the circuit for the predictions of all states of a view.
struct Predictor<'a> {
    states: &'a [State],
    circuit: &'a Circuit,
    switch: Option<Node>,
    sound: Context,
    resolution: Resolution,
    /// By state and pressure of the site, what flows into the sump: all readings of the fill need it.
    fill: Vec<Option<FillFlow>>,
}

impl<'a> Predictor<'a> {
    fn new(
        subsystem: Subsystem,
        states: &'a [State],
        circuit: &'a Circuit,
        sound: Context,
        resolution: Resolution,
    ) -> Self {
        let mut fill = Vec::new();
        if subsystem == Subsystem::Fill {
            for state in states {
                for pressure in Node::SitePressure.grid() {
                    let mut context = sound;
                    context.set(Node::SitePressure, *pressure);
                    fill.push(circuit.fill_flow(state, &context));
                }
            }
        }
        Self {
            states,
            circuit,
            switch: Circuit::switch_of(subsystem).first().copied(),
            sound,
            resolution,
            fill,
        }
    }

    /// What is read of a state at one combination of the nodes on which the reading depends.
    fn predict(
        &self,
        reads: &Reads,
        own: Option<usize>,
        state: usize,
        combination: usize,
        context: &Context,
    ) -> Vec<f64> {
        let is_on = self.switch.is_none_or(|switch| context.get(switch) > 0.5);
        if is_on && !self.fill.is_empty() && !matches!(reads, Reads::Own { .. }) {
            let pressures = Node::SitePressure.grid();
            let flow = self.fill[state * pressures.len() + combination].as_ref();
            return self.circuit.predict_fill(reads, flow, pressures[combination]).into_iter().collect();
        }
        self.circuit.predict(reads, own, &self.states[state], context)
    }

    /// `None` where the model lacks what the measurement would be predicted from.
    fn table(
        &self,
        index: usize,
        measurement: &MeasurementModel,
        own: Option<usize>,
    ) -> Option<MeasurementTable> {
        let depends = Circuit::depends_on(&measurement.reads);
        let nodes: Vec<Node> = depends.iter().copied().filter(|node| Some(*node) != self.switch).collect();
        let resolution = self.resolution.predictions * measurement.model_error;
        let first = self.states.first()?;
        let width = self.circuit.predict(&measurement.reads, own, first, &self.sound).len();
        if width == 0 {
            return None;
        }
        let mut rows = Rows { different: Vec::new(), found: HashMap::new(), resolution };
        // Faults that stand together multiply, but nothing reads beyond what there can be.
        let most = match measurement.reads {
            Reads::Own { subsystem: Subsystem::Drain, .. }
                if measurement.quantity == QuantityKind::Volume =>
            {
                measurement.range.1.min(self.circuit.full_l())
            }
            Reads::Own { .. } => measurement.range.1,
            _ => f64::INFINITY,
        };
        let mut row = |values: Vec<f64>| {
            rows.index(values.into_iter().map(|value| on_scale(measurement.scale, value.min(most))).collect())
        };
        let combinations: usize = nodes.iter().map(|node| node.size()).product();
        let mut of_state = |state: usize, sound: Context| -> Vec<u32> {
            let at = |combination: usize| {
                let mut context = sound;
                let mut rest = combination;
                for node in nodes.iter().rev() {
                    context.set(*node, node.grid()[rest % node.size()]);
                    rest /= node.size();
                }
                context
            };
            (0..combinations)
                .map(|combination| {
                    let context = at(combination);
                    row(self.predict(&measurement.reads, own, state, combination, &context))
                })
                .collect()
        };
        let by_state = (0..self.states.len()).flat_map(|state| of_state(state, self.sound)).collect();
        let mut switched_off = self.sound;
        if let Some(switch) = self.switch {
            switched_off.set(switch, 0.0);
        }
        let off = of_state(0, switched_off);
        Some(MeasurementTable {
            measurement: index,
            nodes,
            switched: self.switch.is_some_and(|switch| depends.contains(&switch)),
            by_level: Circuit::depends_on_level(&measurement.reads),
            is_stretch: Circuit::is_stretch(&measurement.reads),
            predictions: rows.different,
            width,
            index: by_state,
            off,
        })
    }
}

/// Collects different predictions.
struct Rows {
    different: Vec<f64>,
    found: HashMap<Vec<u64>, u32>,
    resolution: f64,
}

impl Rows {
    fn index(&mut self, row: Vec<f64>) -> u32 {
        let key = row.iter().map(|value| cell(*value, self.resolution)).collect();
        let next = self.found.len() as u32;
        *self.found.entry(key).or_insert_with(|| {
            self.different.extend(row);
            next
        })
    }
}

/// The cell of a grid of this resolution in which a value lies; its very bits if the resolution is 0.
fn cell(value: f64, resolution: f64) -> u64 {
    if resolution > 0.0 && value.is_finite() {
        (value / resolution).round().to_bits()
    } else {
        value.to_bits()
    }
}

/// Sound values of all parameters.
pub(super) fn sound_parameters() -> [f64; Parameter::COUNT] {
    let mut parameters = [1.0; Parameter::COUNT];
    parameters[Parameter::OpenElements as usize] = Parameter::OpenElements.sound();
    parameters[Parameter::DoorLeak as usize] = Parameter::DoorLeak.sound();
    parameters
}
