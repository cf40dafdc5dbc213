//! Dangers that stand in a case: told by the caller, or seen. While one does, nothing under power comes next.

use serde::{Deserialize, Serialize};

use super::case::{Case, Observation, Observed};
use super::tables::Tables;
use crate::equipment::{FunctionalLimit, ObservationKey};
use crate::vocabulary::Symptom;

/// A danger that stands, and the readings and answers that tell of it; none where the complaint alone does.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hazard {
    pub danger: Peril,
    pub shown_by: Vec<ObservationKey>,
}

/// What may hurt somebody at the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Peril {
    WetElectrics,
    GnawedWiring,
    LostInsulation,
    RunsWithOpenDoor,
    TrippingProtection,
}

impl Peril {
    /// As a part of a sentence.
    pub const fn words(self) -> &'static str {
        match self {
            Self::WetElectrics => "water on electrics",
            Self::GnawedWiring => "gnawed wiring",
            Self::LostInsulation => "insulation under its limit",
            Self::RunsWithOpenDoor => "a pump that can run with the door open",
            Self::TrippingProtection => "a protection that trips",
        }
    }
}

/// Choices that tell of a danger by themselves. Common practice, no source.
const SEEN: [(&str, &str, Peril); 5] = [
    ("wiring_look/board", "wet", Peril::WetElectrics),
    ("wiring_look/connectors", "gnawed", Peril::GnawedWiring),
    ("door_switch/pump_refuses", "runs", Peril::RunsWithOpenDoor),
    ("door_switch/opening_recognised", "never", Peril::RunsWithOpenDoor),
    ("intake/breaker", "trips", Peril::TrippingProtection),
];
const INSULATION: &str = "dead_electrical/insulation";

/// What was read stands until the same is read without it; that a protection trips, until the insulation keeps its limit.
pub(super) fn standing(tables: &Tables, case: &Case) -> Vec<Hazard> {
    let last = |key: &str| case.observations.iter().rev().find(|seen| seen.key.as_str() == key);
    let insulation = last(INSULATION).and_then(|seen| Some((seen, keeps_limit(tables, seen)?)));
    let is_sound = insulation.is_some_and(|(_, keeps)| keeps);
    let mut hazards: Vec<Hazard> = Vec::new();
    let mut add = |danger: Peril, by: Option<&Observation>| {
        let by = by.map(|seen| seen.key.clone());
        match hazards.iter_mut().find(|hazard| hazard.danger == danger) {
            Some(hazard) => hazard.shown_by.extend(by),
            None => hazards.push(Hazard { danger, shown_by: by.into_iter().collect() }),
        }
    };
    for (key, choice, danger) in SEEN {
        let shown = last(key).filter(
            |seen| matches!(&seen.seen, Observed::Choice(read) if read.as_str() == choice),
        );
        if shown.is_some() && !(danger == Peril::TrippingProtection && is_sound) {
            add(danger, shown);
        }
    }
    if case.complaint == Some(Symptom::TripsSupply) && !is_sound {
        add(Peril::TrippingProtection, None);
    }
    if let Some((seen, false)) = insulation {
        add(Peril::LostInsulation, Some(seen));
    }
    hazards
}

/// Whether a value keeps the model's limit; none without a limit, or where the reading leaves it open.
fn keeps_limit(tables: &Tables, seen: &Observation) -> Option<bool> {
    let of = |limit: &&FunctionalLimit| ObservationKey::from(&limit.of) == seen.key;
    let lower = tables.model.functional_limits.iter().find(of)?.canonical().ok()?.lower?;
    match &seen.seen {
        Observed::Value(number) => Some(number.value >= lower),
        Observed::AtLeast(number) => (number.value >= lower).then_some(true),
        Observed::AtMost(number) => (number.value < lower).then_some(false),
        Observed::Choice(_) => None,
    }
}
