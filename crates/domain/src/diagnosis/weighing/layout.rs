use super::Crossing;
use super::tensor::Tensor;
use crate::diagnosis::node::Node;

/// How the combinations of a part's scope split.
#[derive(Default)]
pub(super) struct Layout {
    pub combinations: Vec<Combination>,
    /// Which of the followed switches are off: the different cases of it.
    pub switched_off: Vec<Vec<Node>>,
    /// What the combinations make of inspections.
    pub looks: Vec<Looks>,
}

/// What decides beside the fault set what inspections show.
#[derive(PartialEq)]
pub(super) struct Looks {
    /// Index into the layout's cases of switches that are off.
    pub switches: usize,
    /// Threshold of each crossing inspection.
    pub thresholds: Vec<usize>,
}

/// The values of all nodes of the scope.
pub(super) struct Combination {
    /// Whether the subsystem is switched on.
    pub is_on: bool,
    /// Where it stands in the tensor for that, and in the one for being off.
    pub on: usize,
    pub off: usize,
    /// Index into the layout's looks.
    pub looks: usize,
}

impl Layout {
    pub fn new(
        scope: &[usize],
        sizes: &[usize],
        switch: Option<Node>,
        on: &Tensor,
        off: &Tensor,
        follows: &[Node],
        crossing: &[&Crossing],
    ) -> Self {
        let size: usize = scope.iter().map(|node| sizes[*node]).product();
        // By node, its stride; 0 for those that the scope lacks.
        let mut strides = vec![0; sizes.len()];
        let mut stride = 1;
        for node in scope.iter().rev() {
            strides[*node] = stride;
            stride *= sizes[*node];
        }
        let value = |combination: usize, node: usize| match strides[node] {
            0 => 0,
            stride => combination / stride % sizes[node],
        };
        let within = |combination: usize, nodes: &[Node]| {
            nodes.iter().fold(0, |offset, node| offset * node.size() + value(combination, node.index()))
        };
        let mut layout = Self::default();
        for combination in 0..size {
            let is_off = |node: &Node| value(combination, node.index()) == 0;
            let switched_off = follows.iter().copied().filter(is_off).collect();
            let looks = Looks {
                switches: index_in(&mut layout.switched_off, switched_off),
                thresholds: crossing.iter().map(|crossing| value(combination, crossing.node)).collect(),
            };
            layout.combinations.push(Combination {
                is_on: switch.is_none_or(|switch| value(combination, switch.index()) == 1),
                on: within(combination, &on.nodes),
                off: within(combination, &off.nodes),
                looks: index_in(&mut layout.looks, looks),
            });
        }
        layout
    }

    pub fn switches(&self, combination: &Combination) -> usize {
        self.looks[combination.looks].switches
    }
}

/// Where a value stands in a list, at whose end it is put if it does not.
fn index_in<T: PartialEq>(list: &mut Vec<T>, value: T) -> usize {
    list.iter().position(|of| *of == value).unwrap_or_else(|| {
        list.push(value);
        list.len() - 1
    })
}
