//! The general table: what a machine can do by the positions that it has, and how kinds of machines differ from
//! the built-in ones. It is data (`data/drafts/general.json`), every number of it a reasoned guess (common
//! practice, no source).

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use serde::Deserialize;

use crate::equipment::{Fault, Model, ObservationKey, Shows};
use crate::text::Key;
use crate::vocabulary::{Position, Symptom};

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    functions: Vec<Function>,
    kinds: Vec<Kind>,
}

/// Something a machine does. One without any of the positions does not do it: nobody complains of it, nobody
/// looks at it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Function {
    #[expect(dead_code, reason = "for whoever reads the table")]
    #[serde(rename = "function")]
    name: String,
    by: BTreeSet<Position>,
    complaints: BTreeSet<Symptom>,
    observations: BTreeSet<ObservationKey>,
}

/// Machines on which faults come to be known in another way than on the built-in ones.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kind {
    #[expect(dead_code, reason = "for whoever reads the table")]
    #[serde(rename = "kind")]
    name: String,
    has: BTreeSet<Position>,
    #[serde(default)]
    lacks: BTreeSet<Position>,
    #[serde(default)]
    most_elements: Option<u32>,
    /// Its heater makes the steam, so that what the heater lacks is missing there.
    #[serde(default)]
    boils_its_water: bool,
    /// What is said instead of a complaint about something that the machine does not do.
    #[serde(default)]
    complaints: BTreeMap<Symptom, BTreeMap<Symptom, f64>>,
    /// How faults show here, in the place of what they show there on other machines.
    #[serde(default)]
    shows: BTreeMap<Key, Vec<Shows>>,
}

static TABLE: LazyLock<Table> = LazyLock::new(|| {
    #[expect(clippy::expect_used, reason = "the file is compiled in, and a test reads it")]
    serde_json::from_str(include_str!("../../data/drafts/general.json")).expect("a well-formed table")
});

/// What the table says of one machine.
pub(super) struct General {
    kinds: Vec<&'static Kind>,
    not_complained_of: BTreeSet<Symptom>,
    not_looked_at: BTreeSet<&'static ObservationKey>,
}

impl General {
    pub fn of(model: &Model) -> Self {
        let elements = model.heater.map_or(0, |heater| heater.elements);
        let is_of = |kind: &&Kind| {
            kind.has.iter().all(|position| model.has(*position))
                && !kind.lacks.iter().any(|position| model.has(*position))
                && kind.most_elements.is_none_or(|most| elements <= most)
        };
        let does = |function: &Function| function.by.iter().any(|position| model.has(*position));
        let lacking = || TABLE.functions.iter().filter(|function| !does(function));
        Self {
            kinds: TABLE.kinds.iter().filter(is_of).collect(),
            not_complained_of: lacking().flat_map(|function| function.complaints.iter().copied()).collect(),
            not_looked_at: lacking().flat_map(|function| &function.observations).collect(),
        }
    }

    pub fn boils_its_water(&self) -> bool {
        self.kinds.iter().any(|kind| kind.boils_its_water)
    }

    pub fn can_be_looked_at(&self, key: &ObservationKey) -> bool {
        !self.not_looked_at.contains(key)
    }

    /// Gives the shares of complaints that nobody can make of this machine to those that are made instead: of its
    /// kind, or in proportion to those that are left.
    pub fn complain(&self, shares: &mut BTreeMap<Symptom, f64>) {
        if shares.keys().all(|complaint| !self.not_complained_of.contains(complaint)) {
            return;
        }
        let mut lost = 0.0;
        for (complaint, share) in shares.clone() {
            if !self.not_complained_of.contains(&complaint) {
                continue;
            }
            shares.remove(&complaint);
            let instead = self.instead_of(complaint);
            let whole: f64 = instead.values().sum();
            if whole <= 0.0 {
                lost += share;
            }
            for (other, weight) in instead {
                *shares.entry(other).or_default() += share * weight / whole;
            }
        }
        let left: f64 = shares.values().sum();
        if left > 0.0 {
            for share in shares.values_mut() {
                *share *= (left + lost) / left;
            }
        }
        // Downwards, so that together they stay a part of all.
        for share in shares.values_mut() {
            *share = (*share * 1e4).floor() / 1e4;
        }
    }

    fn instead_of(&self, complaint: Symptom) -> BTreeMap<Symptom, f64> {
        let of_kind = self.kinds.iter().find_map(|kind| kind.complaints.get(&complaint));
        let possible = |(other, _): &(&Symptom, &f64)| !self.not_complained_of.contains(other);
        of_kind.into_iter().flatten().filter(possible).map(|(other, weight)| (*other, *weight)).collect()
    }

    /// How the fault shows on a machine of its kind.
    pub fn show(&self, fault: &mut Fault) {
        for shows in self.kinds.iter().filter_map(|kind| kind.shows.get(&fault.key)) {
            fault.shows.retain(|of| shows.iter().all(|here| here.at != of.at));
            fault.shows.extend(shows.iter().cloned());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::TABLE;
    use crate::equipment::built_in_fault_catalogues;

    #[test]
    fn the_table_speaks_of_faults_that_some_catalogue_has() {
        for key in TABLE.kinds.iter().flat_map(|kind| kind.shows.keys()) {
            let catalogues = built_in_fault_catalogues();
            assert!(catalogues.iter().any(|catalogue| catalogue.fault(key.as_str()).is_some()), "{key}");
        }
    }
}
