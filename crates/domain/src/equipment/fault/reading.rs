//! How truly what is looked at is read.

use super::{Fault, FaultCatalogue, Inspection, Parameter, Switch, Target};

/// Bounds of the share of looks at which something grave is seen that is not there. **Judgement**: it is
/// a third of how often it is there at all, so that two of three of those that are seen are true even
/// where nothing else speaks for it.
const LEAST_SLIP: f64 = 5e-4;
const MOST_SLIP: f64 = 0.003;
const SLIP_OVER_SHARE: f64 = 1.0 / 3.0;

impl FaultCatalogue {
    /// For each true choice, the probabilities of reading each choice: the inspection's own confusion,
    /// except that a gross choice is seen by a slip in `clamp(π/3, 0.0005, 0.003)` of looks at a sound
    /// part, or at one that is neither it nor its neighbour on the list; π is the share of machines that
    /// show it.
    pub fn read_as(&self, inspection: &Inspection) -> Vec<Vec<f64>> {
        let mut confusion = inspection.confusion.clone();
        for gross in inspection.gross.iter().filter_map(|choice| inspection.choice(choice)) {
            let slip =
                (SLIP_OVER_SHARE * self.share_that_shows(inspection, gross)).clamp(LEAST_SLIP, MOST_SLIP);
            for (truth, row) in confusion.iter_mut().enumerate() {
                let apart = truth.abs_diff(gross) > 1 || (truth == 0 && gross != 0);
                if let (true, Some(read)) = (apart, row.get(gross).copied()) {
                    row[gross] = slip;
                    row[truth] += read - slip;
                }
            }
        }
        confusion
    }

    /// Share of machines that show this choice: `Σ λ·d·show`, and what a switch that is off shows.
    fn share_that_shows(&self, inspection: &Inspection, choice: usize) -> f64 {
        let choice = &inspection.choices[choice];
        let of_fault = |fault: &Fault| {
            let shows =
                fault.shows.iter().filter(|shows| shows.at == inspection.key && shows.choice == *choice);
            fault.odds() * shows.map(|shows| shows.probability).sum::<f64>()
        };
        let of_switch = |switch: Switch| -> f64 {
            self.faults.iter().map(|fault| fault.odds() * turns_off(fault, switch)).sum()
        };
        let faults: f64 = self.faults.iter().map(of_fault).sum();
        let follows = inspection.follows.iter().filter(|follows| follows.choice == *choice);
        let switches: f64 = follows.map(|follows| follows.probability * of_switch(follows.switch)).sum();
        faults + switches
    }
}

/// Share of its severities in which a fault turns a switch off.
fn turns_off(fault: &Fault, switch: Switch) -> f64 {
    let parameters: &[Parameter] = match switch {
        Switch::FillOutput => &[Parameter::FillOutput],
        Switch::WashOutput => &[Parameter::WashOutput],
        Switch::HeatOutput => &[Parameter::HeatOutput],
        Switch::DoorMade => &[Parameter::DoorMade],
        Switch::WashPowered => &[Parameter::WashOutput, Parameter::DoorMade],
    };
    let mut share: f64 = 0.0;
    for dimension in fault.dimensions() {
        let total: f64 = dimension.weights.iter().sum();
        for effect in &dimension.effects {
            if matches!(effect.on, Target::Parameter(parameter) if parameters.contains(&parameter)) {
                let weights = effect.change.extents().iter().zip(dimension.weights);
                let off: f64 =
                    weights.filter(|(extent, _)| extent.to() < 0.5).map(|(_, weight)| weight).sum();
                share = share.max(off / total);
            }
        }
    }
    share
}
