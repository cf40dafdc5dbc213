//! What the subsystems share. Given the values of these nodes the readings of one subsystem say nothing
//! of another, so that each can be summed by itself; the nodes are then summed outside.

use super::likelihood::normal_below;

/// A shared quantity, on a fixed grid of values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Node {
    /// Whether the controls reach the fill valve.
    FillOutput,
    /// Whether the controls reach the wash motor.
    WashOutput,
    /// Whether the controls reach the heating.
    HeatOutput,
    /// Whether the machine knows that its door is shut.
    DoorMade,
    /// Whether the wash motor is fed: its output and the door together.
    WashPowered,
    /// Water that came into the sump before the mark or the controls ended the fill, over its full volume.
    Filled,
    /// Static pressure of the site, bar.
    SitePressure,
    /// Voltage of the site over its nominal value.
    SiteVoltage,
    /// Water in the sump when the wash begins, over its full volume.
    FilledVolume,
    /// Share of the wash water that is lost on its way back: past the door, or out of a hose.
    DoorLeak,
}

const SWITCH: [f64; 2] = [0.0, 1.0];
const VOLTAGE: [f64; 7] = [0.55, 0.66, 0.76, 0.82, 0.88, 0.94, 1.0];
/// Values of [`VOLUME`], so that a level that the water decides is one of its own.
const FILLED: [f64; 6] = [0.0, 0.16, 0.3, 0.6, 0.75, 1.0];
const VOLUME: [f64; 10] = [0.0, 0.07, 0.16, 0.3, 0.45, 0.6, 0.75, 0.88, 1.0, 1.15];
const LEAK: [f64; 9] = [0.0, 0.004, 0.009, 0.018, 0.033, 0.06, 0.11, 0.2, 0.3];
/// 0.3 to 8 bar, evenly by factors of 1.153, and what no gauge tells from nothing.
const PRESSURE: [f64; 27] = [
    0.02, 0.06, 0.15, 0.3, 0.346, 0.399, 0.461, 0.531, 0.612, 0.706, 0.815, 0.940, 1.084, 1.25, 1.441, 1.662,
    1.917, 2.211, 2.55, 2.94, 3.391, 3.911, 4.51, 5.202, 5.999, 6.918, 8.0,
];

impl Node {
    pub const COUNT: usize = Self::DoorLeak as usize + 1;
    pub const ALL: [Self; Self::COUNT] = [
        Self::FillOutput,
        Self::WashOutput,
        Self::HeatOutput,
        Self::DoorMade,
        Self::WashPowered,
        Self::Filled,
        Self::SitePressure,
        Self::SiteVoltage,
        Self::FilledVolume,
        Self::DoorLeak,
    ];

    pub const fn index(self) -> usize {
        self as usize
    }

    /// Ascending.
    pub const fn grid(self) -> &'static [f64] {
        match self {
            Self::FillOutput | Self::WashOutput | Self::HeatOutput | Self::DoorMade | Self::WashPowered => {
                &SWITCH
            }
            Self::Filled => &FILLED,
            Self::SitePressure => &PRESSURE,
            Self::SiteVoltage => &VOLTAGE,
            Self::FilledVolume => &VOLUME,
            Self::DoorLeak => &LEAK,
        }
    }

    pub const fn size(self) -> usize {
        self.grid().len()
    }

    /// Standard deviation, on the logarithmic scale, of the values for which a node of the grid stands.
    pub const fn width(self) -> f64 {
        match self {
            // The step ln 1.153 over √12.
            Self::SitePressure => 0.0412,
            Self::SiteVoltage => 0.02,
            _ => 0.0,
        }
    }

    /// The values for which one of the grid stands, up to half way to its neighbours; a sump that is empty
    /// or full to the mark is just that.
    pub fn stretch(self, value: f64) -> (f64, f64) {
        let grid = self.grid();
        let at = grid.iter().position(|node| *node >= value).unwrap_or(grid.len() - 1);
        if self == Self::FilledVolume && (value <= 0.0 || (value - 1.0).abs() < 1e-12) {
            return (value, value);
        }
        let edge = |other: Option<&f64>| {
            other.map(|other| if *other > 0.0 { (other * value).sqrt() } else { 0.5 * value })
        };
        let (below, above) = (edge(at.checked_sub(1).and_then(|at| grid.get(at))), edge(grid.get(at + 1)));
        // The last one reaches as far beyond as to its neighbour.
        let low = below.unwrap_or_else(|| value * value / above.unwrap_or(value));
        let high = above.unwrap_or_else(|| value * value / low.max(0.5 * value));
        (low, high)
    }

    /// Probabilities of the grid's values when the quantity is log-normal about `median`.
    pub fn log_normal(self, median: f64, spread: f64) -> Vec<f64> {
        let grid = self.grid();
        let mut below = 0.0;
        (0..grid.len())
            .map(|at| {
                let up_to = grid.get(at + 1).map_or(1.0, |next| {
                    let edge = (grid[at] * next).sqrt();
                    normal_below((edge / median).ln() / spread)
                });
                let mass = up_to - below;
                below = up_to;
                mass
            })
            .collect()
    }

    /// Probabilities of the grid's values for a known value: shared between its neighbours so that
    /// their mean is the value, or all on the end that it lies beyond.
    pub fn split(self, value: f64) -> Vec<f64> {
        let grid = self.grid();
        let mut masses = vec![0.0; grid.len()];
        let above = grid.iter().position(|node| *node >= value);
        match above {
            None => masses[grid.len() - 1] = 1.0,
            Some(0) => masses[0] = 1.0,
            Some(at) => {
                let share = (value - grid[at - 1]) / (grid[at] - grid[at - 1]);
                masses[at - 1] = 1.0 - share;
                masses[at] = share;
            }
        }
        masses
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grids_ascend_and_distributions_sum_to_one() {
        for node in Node::ALL {
            assert!(node.grid().windows(2).all(|pair| pair[0] < pair[1]), "{node:?}");
            assert_eq!(Node::ALL[node.index()], node);
            for value in [-1.0, 0.0, 0.02, 0.5, 0.97, 1.0, 40.0] {
                let split = node.split(value);
                assert!((split.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{node:?} {value}");
                let mean: f64 = split.iter().zip(node.grid()).map(|(p, x)| p * x).sum();
                let (low, high) = (node.grid()[0], node.grid()[node.size() - 1]);
                assert!((mean - value.clamp(low, high)).abs() < 1e-12, "{node:?} {value}");
            }
        }
        let pressure = Node::SitePressure.log_normal(3.0, 0.3);
        assert!((pressure.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        let mean: f64 = pressure.iter().zip(Node::SitePressure.grid()).map(|(p, x)| p * x.ln()).sum();
        assert!((mean - 3.0_f64.ln()).abs() < 0.01, "{mean}");
    }

    #[test]
    fn each_fault_leads_close_to_a_value_of_the_grid() {
        use crate::equipment::{Change, Extent, Parameter, Target, demo_combi_faults};
        let mut led = 0;
        for fault in &demo_combi_faults().faults {
            for effect in &fault.effects {
                let (node, values, close): (Node, &[Extent], f64) = match (&effect.on, &effect.change) {
                    (Target::Parameter(Parameter::DoorLeak), Change::Add(values)) => {
                        (Node::DoorLeak, values, 0.004)
                    }
                    (Target::Parameter(Parameter::SiteVoltage), Change::Scale(values)) => {
                        (Node::SiteVoltage, values, 0.056)
                    }
                    _ => continue,
                };
                for value in values.iter().flat_map(|of| [0.1, 0.5, 0.9].map(|share| of.at(share))) {
                    led += 1;
                    // What lies beyond an end stands on it, as `split` has it.
                    let value = value.clamp(node.grid()[0], node.grid()[node.size() - 1]);
                    let nearest = node.grid().iter().map(|of| (of - value).abs()).fold(f64::MAX, f64::min);
                    let allowed = if node == Node::DoorLeak { close.max(0.3 * value) } else { close };
                    assert!(nearest <= allowed, "{} {value}: {nearest}", fault.key);
                }
            }
        }
        assert!(led >= 15);
    }
}
