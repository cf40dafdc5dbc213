//! How probable what was looked at is, given all that stands: every parent puts it to a choice or to
//! none, the furthest down the list is the true one, and that is read through the confusion matrix.

use domain::equipment::{FaultCatalogue, Inspection, Switch};
use simulator::cases::catalogue::{CatalogueCase, Seen, UNKNOWN_SHOWS, UNKNOWN_SHOWS_ON_A_PART};

use super::Thing;

const MOST_CHOICES: usize = 16;

/// One inspection as it was read in a case.
pub(super) struct Look {
    /// By choice, P(read | that is the true one).
    read: Vec<f64>,
    /// By thing, P(it shows at most this choice), where it shows at all.
    parents: Vec<Option<Vec<f64>>>,
    /// Switches that show when they are off.
    pub follows: Vec<(Switch, Vec<f64>)>,
}

impl Look {
    pub fn all(catalogue: &FaultCatalogue, things: &[Thing], case: &CatalogueCase) -> Vec<Self> {
        let look = |inspection: &Inspection| {
            let seen = case.observations.iter().find(|seen| seen.key == inspection.key)?;
            let Seen::Choice(choice) = &seen.seen else { return None };
            let read = inspection.choices.iter().position(|of| of.as_str() == choice)?;
            Some(Self {
                read: catalogue.read_as(inspection).iter().map(|row| row[read]).collect(),
                parents: things.iter().map(|thing| at_most(catalogue, inspection, thing)).collect(),
                follows: inspection
                    .follows
                    .iter()
                    .map(|follows| {
                        let shown = inspection.choice(&follows.choice).unwrap_or(0);
                        let at_most = cumulative(inspection.choices.len(), &[(shown, follows.probability)]);
                        (follows.switch, at_most)
                    })
                    .collect(),
            })
        };
        catalogue.inspections.iter().filter_map(look).collect()
    }

    /// P(read) when these things stand and these switches are off.
    pub fn given(&self, set: &[usize], off: impl Fn(Switch) -> bool) -> f64 {
        let mut at_most = [1.0; MOST_CHOICES];
        let mut put = |factors: &[f64]| at_most.iter_mut().zip(factors).for_each(|(p, factor)| *p *= factor);
        set.iter().filter_map(|thing| self.parents[*thing].as_ref()).for_each(|parent| put(parent));
        self.follows.iter().filter(|(switch, _)| off(*switch)).for_each(|(_, factors)| put(factors));
        let mut before = 0.0;
        let mut probability = 0.0;
        for (read, at_most) in self.read.iter().zip(&at_most) {
            probability += read * (at_most - before);
            before = *at_most;
        }
        probability
    }
}

fn at_most(catalogue: &FaultCatalogue, inspection: &Inspection, thing: &Thing) -> Option<Vec<f64>> {
    let count = inspection.choices.len();
    let shows: Vec<(usize, f64)> = match thing {
        Thing::Fault(fault) => catalogue.faults[*fault]
            .shows
            .iter()
            .filter(|shows| shows.at == inspection.key)
            .filter_map(|shows| Some((inspection.choice(&shows.choice)?, shows.probability)))
            .collect(),
        Thing::Unknown(subsystem) => {
            let shows = |fault: &domain::equipment::Fault| {
                fault.subsystem == *subsystem && fault.shows.iter().any(|shows| shows.at == inspection.key)
            };
            let follows = inspection.follows.iter().any(|of| of.switch.subsystem() == *subsystem);
            if follows || catalogue.faults.iter().any(shows) {
                let any = if inspection.of_part { UNKNOWN_SHOWS_ON_A_PART } else { UNKNOWN_SHOWS };
                (0..count).map(|choice| (choice, any / count as f64)).collect()
            } else {
                Vec::new()
            }
        }
    };
    (!shows.is_empty()).then(|| cumulative(count, &shows))
}

fn cumulative(count: usize, shows: &[(usize, f64)]) -> Vec<f64> {
    let beyond =
        |choice: usize| shows.iter().filter(|(shown, _)| *shown > choice).map(|(_, p)| p).sum::<f64>();
    (0..count).map(|choice| 1.0 - beyond(choice)).collect()
}
