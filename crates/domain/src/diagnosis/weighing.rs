//! The weight of every fault set of every subsystem under the evidence of a case, for each combination
//! of the shared nodes on which that evidence depends.

mod foresight;
mod layout;
mod reading;
mod tensor;

pub(super) use foresight::{Foresight, MOST_SIGHTS, Sight, threshold_weights};
pub(super) use reading::ReadingUnderSet;

use super::circuit::Circuit;
use super::elimination::{Dual, Elimination, Table};
use super::evidence::{Evidence, NumberEvidence};
use super::node::Node;
use super::tables::{FaultSet, InspectionTable, MeasurementTable, SubsystemTables, Tables, thresholds};
use layout::{Combination, Layout};
use tensor::{RowLikelihoods, Tensor};

/// All weights under the evidence of one case.
pub(super) struct Weighing<'a> {
    pub tables: &'a Tables,
    pub evidence: &'a Evidence,
    /// Sizes of the shared nodes and, behind them, of the inspections that several subsystems share.
    pub sizes: Vec<usize>,
    pub parts: Vec<Part>,
    /// Factors that belong to no subsystem.
    links: Vec<Link>,
    /// Of the parts' tables and the links.
    elimination: Elimination,
    /// κ₀·q₀ and the calls that are explained by what was mended already.
    pub background: f64,
    /// κ·q by hypothesis.
    pub calls: Vec<f64>,
    /// Factor on the odds of each hypothesis from earlier findings.
    pub found: Vec<f64>,
    /// Nodes on which the evidence depends.
    needed: [bool; Node::COUNT],
    /// Inspections seen that have parents in several subsystems.
    crossing: Vec<Crossing>,
    /// Measurements that were not taken and whose outcome is to be foreseen (indices into the
    /// catalogue's): the nodes on which they depend are kept.
    foreseen: Vec<usize>,
}

/// The weights of one subsystem.
pub(super) struct Part {
    /// Index into the subsystems of the tables.
    pub subsystem: usize,
    /// Which of its views tells the readings apart.
    view: usize,
    /// Indices of nodes, ascending, the last running fastest.
    pub scope: Vec<usize>,
    pub size: usize,
    /// By set and combination of the scope.
    pub weights: Vec<f64>,
    /// Σ κ·q by set.
    pub calls: Vec<f64>,
    /// Natural logarithm of the factor taken out of the weights.
    pub log_scale: f64,
    scale: f64,
    layout: Layout,
    /// E_on and E_off by state; see [`Part::weigh`].
    on: Tensor,
    off: Tensor,
    likelihoods: Vec<RowLikelihoods>,
    /// Indices into the evidence's choices.
    choices: Vec<usize>,
}

/// What of a case bears on a subsystem.
struct Bearing {
    /// Which of its views tells the readings apart.
    view: usize,
    /// Indices into the evidence's numbers and choices.
    numbers: Vec<usize>,
    choices: Vec<usize>,
    /// Nodes on which its readings depend while it is switched on, and off.
    on_nodes: Vec<Node>,
    off_nodes: Vec<Node>,
    /// The node that switches it, if that matters.
    switch: Option<Node>,
    /// Nodes that its looks follow.
    follows: Vec<Node>,
}

impl Bearing {
    /// All nodes over which its weights run, ascending; looks that several subsystems share are nodes too.
    fn scope(&self, crossing: &[&Crossing]) -> Vec<usize> {
        let nodes = self.on_nodes.iter().copied().chain(self.switch).chain(self.follows.iter().copied());
        let mut scope: Vec<usize> =
            nodes.map(Node::index).chain(crossing.iter().map(|crossing| crossing.node)).collect();
        scope.sort_unstable();
        scope.dedup();
        scope
    }
}

/// A factor over nodes that belongs to no subsystem.
struct Link {
    scope: Vec<usize>,
    table: Table,
}

/// An inspection with parents in several subsystems is a node of its own: `P(read) = Σ_c g(c) Π F(c)`,
/// a sum over thresholds with weights of either sign, each term a product over the subsystems.
struct Crossing {
    inspection: usize,
    node: usize,
    /// The choices c that have a weight, one for each value of the node.
    choices: Vec<usize>,
}

impl<'a> Weighing<'a> {
    pub fn new(
        tables: &'a Tables,
        evidence: &'a Evidence,
        calls: Vec<f64>,
        background: f64,
        found: Vec<f64>,
        foreseen: &[usize],
    ) -> Self {
        let mut weighing = Self {
            tables,
            evidence,
            sizes: Node::ALL.iter().map(|node| node.size()).collect(),
            parts: Vec::new(),
            links: Vec::new(),
            elimination: Elimination::default(),
            background,
            calls,
            found,
            needed: [false; Node::COUNT],
            crossing: Vec::new(),
            foreseen: foreseen.to_vec(),
        };
        weighing.find_needed();
        weighing.find_crossing();
        if weighing.needs(Node::WashPowered) {
            weighing.links.push(both_needed());
        }
        let parts: Vec<Part> = (0..tables.subsystems.len()).map(|index| weighing.part(index)).collect();
        weighing.parts = parts;
        let of_parts = weighing.parts.iter().map(|part| &part.scope[..]);
        let scopes = of_parts.chain(weighing.links.iter().map(|link| &link.scope[..]));
        weighing.elimination = Elimination::new(scopes, &weighing.sizes);
        weighing
    }

    /// `Z` when the parts have these tables.
    pub fn evidence_of<'t>(&'t self, tables: impl IntoIterator<Item = &'t Table>) -> f64 {
        self.elimination.evidence(&self.with_links(tables), self.background)
    }

    /// `Z` when the parts have these tables, and the environment of each.
    pub fn environments<'t>(&'t self, tables: impl IntoIterator<Item = &'t Table>) -> (f64, Vec<Table>) {
        let (z, mut environments) = self.elimination.environments(&self.with_links(tables), self.background);
        environments.truncate(self.parts.len());
        (z, environments)
    }

    fn with_links<'t>(&'t self, tables: impl IntoIterator<Item = &'t Table>) -> Vec<&'t Table> {
        tables.into_iter().chain(self.links.iter().map(|link| &link.table)).collect()
    }

    pub fn needs(&self, node: Node) -> bool {
        self.needed[node.index()]
    }

    /// The nodes on which some evidence depends, and those on which they depend in turn.
    fn find_needed(&mut self) {
        for number in &self.evidence.numbers {
            let of = &self.tables.subsystems[number.subsystem];
            for node in self.nodes_of(number).into_iter().chain(of.switch.filter(|_| self.switched(number))) {
                self.needed[node.index()] = true;
            }
        }
        for measurement in &self.foreseen {
            for node in Circuit::depends_on(&self.tables.catalogue.measurements[*measurement].reads) {
                self.needed[node.index()] = true;
            }
        }
        for choice in &self.evidence.choices {
            for (node, _) in &self.tables.inspections[choice.inspection].follows {
                self.needed[node.index()] = true;
            }
        }
        if !self.foreseen.is_empty() {
            for (node, _) in self.tables.inspections.iter().flat_map(|table| &table.follows) {
                self.needed[node.index()] = true;
            }
        }
        let depends: [(Node, &[Node]); 3] = [
            (Node::FilledVolume, &[Node::Filled]),
            (Node::Filled, &[Node::FillOutput, Node::SitePressure]),
            (Node::WashPowered, &[Node::WashOutput, Node::DoorMade]),
        ];
        for (node, on) in depends {
            if self.needs(node) {
                for node in on {
                    self.needed[node.index()] = true;
                }
            }
        }
    }

    /// Nodes on which a reading depends beside the switch of its subsystem.
    fn nodes_of(&self, number: &NumberEvidence) -> Vec<Node> {
        let reads = &self.tables.catalogue.measurements[number.measurement].reads;
        let switch = self.tables.subsystems[number.subsystem].switch;
        let level = Circuit::depends_on_level(reads) && number.level.is_none();
        Circuit::depends_on(reads)
            .iter()
            .copied()
            .filter(|node| Some(*node) != switch)
            .chain(level.then_some(Node::FilledVolume))
            .collect()
    }

    fn switched(&self, number: &NumberEvidence) -> bool {
        let reads = &self.tables.catalogue.measurements[number.measurement].reads;
        self.tables.subsystems[number.subsystem]
            .switch
            .is_some_and(|switch| Circuit::depends_on(reads).contains(&switch))
    }

    fn find_crossing(&mut self) {
        for choice in &self.evidence.choices {
            if self.tables.inspections[choice.inspection].within.is_some() {
                continue;
            }
            let weights = thresholds(&choice.given);
            let node = self.sizes.len();
            // Thresholds without weight need no term.
            let kept: Vec<usize> = (0..weights.len()).filter(|c| weights[*c].abs() > 1e-12).collect();
            self.sizes.push(kept.len());
            let table = kept.iter().map(|choice| Dual { all: weights[*choice], calls: 0.0 }).collect();
            self.links.push(Link { scope: vec![node], table });
            self.crossing.push(Crossing { inspection: choice.inspection, node, choices: kept });
        }
    }

    /// The weights of one subsystem: what bears on it, over which nodes that runs, and what comes of it.
    fn part(&self, index: usize) -> Part {
        let of = &self.tables.subsystems[index];
        let bearing = self.bearing(index);
        let crossing: Vec<&Crossing> =
            self.crossing.iter().filter(|crossing| self.touches(of, crossing.inspection)).collect();
        let Bearing { view: view_index, switch, follows, .. } = &bearing;
        let view = self.tables.view(index, *view_index);
        let likelihoods: Vec<RowLikelihoods> = bearing
            .numbers
            .iter()
            .filter_map(|at| RowLikelihoods::new(view, *at, &self.evidence.numbers[*at]))
            .collect();
        let on = Tensor::new(view, &bearing.on_nodes, &self.needed, &likelihoods, true);
        let off = if switch.is_some() {
            Tensor::new(view, &bearing.off_nodes, &self.needed, &likelihoods, false)
        } else {
            Tensor::default()
        };
        let scope = bearing.scope(&crossing);
        let layout = Layout::new(&scope, &self.sizes, *switch, &on, &off, follows, &crossing);
        let mut part = Part {
            subsystem: index,
            view: *view_index,
            size: scope.iter().map(|node| self.sizes[*node]).product(),
            scope,
            weights: Vec::new(),
            calls: of.sets.iter().map(|set| set.members.iter().map(|m| self.calls[*m]).sum()).collect(),
            log_scale: likelihoods.iter().map(|row| row.log_scale).sum(),
            scale: 1.0,
            layout,
            on,
            off,
            likelihoods,
            choices: bearing.choices,
        };
        part.weights = self.weigh(&part, &crossing);
        // Readings bring at most 1 each; only where many contradict each other is there hardly anything
        // left, and the weights must be brought back into the range of numbers.
        if part.weights.iter().all(|weight| *weight < 1e-200) {
            part.scale_up();
            part.weights = self.weigh(&part, &crossing);
        }
        part
    }

    /// What of the case bears on one subsystem: the readings and looks taken there or to be foreseen, and
    /// the nodes through which the others have a say.
    fn bearing(&self, index: usize) -> Bearing {
        let of = &self.tables.subsystems[index];
        let numbers: Vec<usize> = (0..self.evidence.numbers.len())
            .filter(|at| self.evidence.numbers[*at].subsystem == index)
            .collect();
        let choices: Vec<usize> = (0..self.evidence.choices.len())
            .filter(|at| {
                let inspection = self.evidence.choices[*at].inspection;
                self.tables.inspections[inspection].within == Some(of.subsystem)
            })
            .collect();
        let foreseen: Vec<usize> = self.foreseen_in(of);
        let measured: Vec<usize> =
            numbers.iter().map(|at| self.evidence.numbers[*at].measurement).chain(foreseen.clone()).collect();
        let view = of.view_for(&measured);
        let owned: Vec<Node> = of.owns.iter().map(|own| own.0).filter(|node| self.needs(*node)).collect();
        let given = of.owns.iter().filter(|own| self.needs(own.0)).filter_map(|own| own.1);
        let owned_nodes = ascending(owned.iter().copied().chain(given).collect());
        let read = numbers.iter().flat_map(|at| self.nodes_of(&self.evidence.numbers[*at]));
        let to_read = foreseen
            .iter()
            .flat_map(|measurement| {
                Circuit::depends_on(&self.tables.catalogue.measurements[*measurement].reads)
            })
            .copied()
            .filter(|node| Some(*node) != of.switch);
        let on_nodes = ascending(read.chain(to_read).chain(owned_nodes.iter().copied()).collect());
        let tables = self.tables.view(index, view);
        let read_off =
            measured.iter().filter_map(|at| tables.table(*at)).flat_map(MeasurementTable::nodes_when_off);
        let off_nodes = ascending(read_off.chain(&owned_nodes).copied().collect());
        let switch = of.switch.filter(|node| {
            let switched = numbers.iter().any(|at| self.switched(&self.evidence.numbers[*at]));
            switched || (self.needs(*node) && !(owned.is_empty() && foreseen.is_empty()))
        });
        let follows = self.followed(of, &choices);
        Bearing { view, numbers, choices, on_nodes, off_nodes, switch, follows }
    }

    /// The nodes of a subsystem that looks follow, those taken and those to be foreseen.
    fn followed(&self, of: &SubsystemTables, choices: &[usize]) -> Vec<Node> {
        let followed_later = self.tables.inspections.iter().enumerate().filter(|(_, table)| {
            !self.foreseen.is_empty() && table.within.is_none_or(|within| within == of.subsystem)
        });
        choices
            .iter()
            .map(|at| self.evidence.choices[*at].inspection)
            .chain(self.crossing.iter().map(|crossing| crossing.inspection))
            .chain(followed_later.map(|(index, _)| index))
            .flat_map(|inspection| &self.tables.inspections[inspection].follows)
            .map(|(node, _)| *node)
            .filter(|node| of.holds(*node))
            .collect()
    }

    /// The measurements to be foreseen in a subsystem.
    fn foreseen_in(&self, of: &SubsystemTables) -> Vec<usize> {
        let reads = |index: usize| self.tables.catalogue.measurements[index].reads.subsystem();
        self.foreseen.iter().copied().filter(|index| reads(*index) == of.subsystem).collect()
    }

    /// Whether a crossing inspection has parents in the subsystem.
    fn touches(&self, of: &SubsystemTables, inspection: usize) -> bool {
        let table = &self.tables.inspections[inspection];
        of.members.iter().any(|member| table.parents[*member].is_some())
            || table.follows.iter().any(|(node, _)| of.holds(*node))
    }

    /// `odds · Π inspections · Σ_states p(state)·E(state)` by set and combination.
    fn weigh(&self, part: &Part, crossing: &[&Crossing]) -> Vec<f64> {
        let of = &self.tables.subsystems[part.subsystem];
        let view = self.tables.view(part.subsystem, part.view);
        let unknown = part.likelihoods.iter().map(|row| row.unknown).product::<f64>() / part.scale;
        let mut weights = Vec::with_capacity(of.sets.len() * part.size);
        let read: Vec<LocalChoice> = part
            .choices
            .iter()
            .map(|at| {
                let seen = &self.evidence.choices[*at];
                self.local_choice(part, seen.inspection, &thresholds(&seen.given))
            })
            .collect();
        let (mut on, mut off) = (Vec::new(), Vec::new());
        let mut by_switches = vec![0.0; part.layout.switched_off.len()];
        let mut by_looks = vec![0.0; part.layout.looks.len()];
        for (index, set) in of.sets.iter().enumerate() {
            let odds: f64 = set.odds * set.members.iter().map(|member| self.found[*member]).product::<f64>();
            if set.unknown {
                on = self.unread(part, index, &part.on, true);
                off = self.unread(part, index, &part.off, false);
            } else {
                let reached = &view.reached[index];
                part.on.sum_into(reached, &mut on);
                part.off.sum_into(reached, &mut off);
            }
            let odds = if set.unknown { odds * unknown } else { odds };
            for (switches, factor) in by_switches.iter_mut().enumerate() {
                *factor = odds * read.iter().map(|read| read.given(&set.members, switches)).product::<f64>();
            }
            let crossed: Vec<Vec<f64>> =
                crossing.iter().map(|crossing| self.crossed(part, crossing, set)).collect();
            for (factor, looks) in by_looks.iter_mut().zip(&part.layout.looks) {
                let at = |threshold: &usize| threshold * by_switches.len() + looks.switches;
                let crossed = crossed.iter().zip(&looks.thresholds);
                *factor = by_switches[looks.switches]
                    * crossed.map(|(factors, threshold)| factors[at(threshold)]).product::<f64>();
            }
            weights.extend(part.layout.combinations.iter().map(|combination| {
                let states = if combination.is_on { on[combination.on] } else { off[combination.off] };
                by_looks[combination.looks] * states
            }));
        }
        weights
    }

    /// The probabilities of the owned nodes for a set whose readings can be anything.
    fn unread(&self, part: &Part, set: usize, like: &Tensor, on: bool) -> Vec<f64> {
        if like.size == 0 {
            return Vec::new();
        }
        let view = self.tables.view(part.subsystem, part.view);
        Tensor::owned_mean(view, &like.nodes, &self.needed, &view.reached[set], on)
    }

    fn local_choice(&self, part: &Part, inspection: usize, weights: &[f64]) -> LocalChoice<'a> {
        let table = &self.tables.inspections[inspection];
        let of_case = |switched_off: &Vec<Node>| {
            let weight = |(choice, weight)| weight * table.when_off(switched_off, choice);
            weights.iter().enumerate().map(weight).collect()
        };
        LocalChoice { table, weights: part.layout.switched_off.iter().map(of_case).collect() }
    }

    /// What one set makes of the kept thresholds, by threshold and case of switches that are off.
    fn crossed(&self, part: &Part, crossing: &Crossing, set: &FaultSet) -> Vec<f64> {
        let table = &self.tables.inspections[crossing.inspection];
        let cases = &part.layout.switched_off;
        let of_choice = |choice: &usize| {
            let of_set = table.up_to(&set.members, *choice);
            cases.iter().map(move |off| of_set * table.when_off(off, *choice)).collect::<Vec<_>>()
        };
        crossing.choices.iter().flat_map(of_choice).collect()
    }

    pub fn foresees(&self, measurement: usize) -> bool {
        self.foreseen.contains(&measurement)
    }

    /// What a part makes of `P(true ≤ choice)` of an inspection.
    pub fn up_to(&self, part: &Part, inspection: usize, choice: usize) -> Factors {
        let table = &self.tables.inspections[inspection];
        let sets = &self.tables.subsystems[part.subsystem].sets;
        let of_set = |set: &FaultSet| table.up_to(&set.members, choice);
        let of_combination = |combination: &Combination| {
            table.when_off(&part.layout.switched_off[part.layout.switches(combination)], choice)
        };
        Factors {
            by_set: sets.iter().map(of_set).collect(),
            by_combination: part.layout.combinations.iter().map(of_combination).collect(),
        }
    }
}

impl Part {
    /// Takes the largest value out of the tensors.
    fn scale_up(&mut self) {
        let largest = self.on.values.iter().chain(&self.off.values).copied().fold(0.0, f64::max);
        if largest > 0.0 {
            self.on.values.iter_mut().chain(&mut self.off.values).for_each(|value| *value /= largest);
            self.scale = largest;
            self.log_scale += largest.ln();
        }
    }

    /// The table over the nodes with these factors, summed over the sets that `keep`.
    pub fn scaled_table(&self, factors: &Factors, keep: impl Fn(usize) -> bool) -> Table {
        let mut table = vec![Dual::default(); self.size];
        for (index, (calls, factor)) in self.calls.iter().zip(&factors.by_set).enumerate() {
            if !keep(index) {
                continue;
            }
            let weights = &self.weights[index * self.size..(index + 1) * self.size];
            for (value, weight) in table.iter_mut().zip(weights) {
                value.all += weight * factor;
                value.calls += weight * factor * calls;
            }
        }
        for (value, factor) in table.iter_mut().zip(&factors.by_combination) {
            value.all *= factor;
            value.calls *= factor;
        }
        table
    }

    /// The table over the nodes, summed over the sets that `keep`.
    pub fn table(&self, keep: impl Fn(usize) -> bool) -> Table {
        let mut table = vec![Dual::default(); self.size];
        for (index, calls) in self.calls.iter().enumerate().filter(|(index, _)| keep(*index)) {
            let weights = &self.weights[index * self.size..(index + 1) * self.size];
            for (value, weight) in table.iter_mut().zip(weights) {
                value.all += weight;
                value.calls += weight * calls;
            }
        }
        table
    }
}

/// Factors on the weights of a part.
pub(super) struct Factors {
    by_set: Vec<f64>,
    /// By combination of its nodes.
    by_combination: Vec<f64>,
}

/// An inspection whose parents are all of one subsystem, for one set.
struct LocalChoice<'a> {
    table: &'a InspectionTable,
    /// By case of switches that are off and threshold.
    weights: Vec<Vec<f64>>,
}

impl LocalChoice<'_> {
    /// P(read) when these faults stand, in one case of switches that are off.
    fn given(&self, members: &[usize], switches: usize) -> f64 {
        let weights = self.weights[switches].iter().enumerate();
        weights.map(|(choice, weight)| weight * self.table.up_to(members, choice)).sum::<f64>().max(0.0)
    }
}

/// The motor is fed if its output and the door are both on.
fn both_needed() -> Link {
    let mut scope = vec![Node::WashOutput.index(), Node::DoorMade.index(), Node::WashPowered.index()];
    scope.sort_unstable();
    let mut table = vec![Dual::default(); 8];
    for (index, value) in table.iter_mut().enumerate() {
        let bit = |node: Node| {
            let at = scope.iter().position(|n| *n == node.index()).unwrap_or_default();
            index >> (2 - at) & 1 == 1
        };
        if bit(Node::WashPowered) == (bit(Node::WashOutput) && bit(Node::DoorMade)) {
            *value = Dual::ONE;
        }
    }
    Link { scope, table }
}

fn ascending(mut nodes: Vec<Node>) -> Vec<Node> {
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}
