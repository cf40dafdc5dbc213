//! Plain words for the telephone: to a cook, without figures and without the trade's words.

use super::statement::Statement;
use crate::diagnosis::answer::Diagnosis;
use crate::vocabulary::Position;
use crate::work::cautions;

/// From which probability on which word is used; less is not named.
const WORDS: [(f64, &str); 4] = [
    (0.95, "It is almost certainly"),
    (0.75, "It is very probably"),
    (0.5, "It is probably"),
    (0.25, "It may be"),
];
/// So many places at most are named: nobody keeps more in mind on the telephone.
const MOST_NAMED: usize = 3;

impl Diagnosis {
    /// What a caller is told: where it most probably is, and what comes next.
    pub fn plain_words(&self) -> String {
        let mut sentences: Vec<String> = Vec::new();
        for hazard in &self.next.hazards {
            // The first of its cautions is for whoever stands beside the machine.
            let first = cautions(&[hazard.danger], false).first().map(|(text, _)| (*text).to_owned());
            sentences.extend(first.filter(|text| !sentences.contains(text)));
        }
        if !sentences.is_empty() {
            sentences.push("Please keep people away from it until we have seen it.".to_owned());
        }
        let mut named: Vec<&str> = Vec::new();
        for statement in self.statements() {
            let Some((_, how)) = WORDS.iter().find(|(least, _)| statement.probability >= *least) else {
                break;
            };
            let what = place(&statement);
            if named.contains(&what) || named.len() == MOST_NAMED {
                continue;
            }
            named.push(what);
            sentences.push(match statement.position {
                Some(_) => format!("{how} {what}."),
                None => format!(
                    "{} {what}.",
                    how.replace("It is", "We think it").replace("It may be", "It may be that")
                ),
            });
        }
        if named.is_empty() {
            sentences.push(
                "From what we know so far it can be one of several things; we will find it.".to_owned(),
            );
        }
        if self.parts.parts.iter().any(|part| part.needed >= 0.5) {
            sentences.push("We bring the part that is most probably needed.".to_owned());
        }
        sentences.join(" ")
    }
}

/// Where a fault is, in the words of a kitchen.
fn place(statement: &Statement) -> &'static str {
    let Some(position) = statement.position else {
        return if statement.text.starts_with("something") {
            "something unusual"
        } else {
            "there is nothing wrong"
        };
    };
    match position {
        Position::SitePressure => "the water pressure of the building",
        Position::SiteVoltage => "the electricity of the building",
        Position::BuildingDrain => "the drain of the building",
        Position::Use => "the way the wash was run",
        Position::Treatment => "the water filter",
        Position::InletStrainer | Position::ValveStrainer => "a clogged water strainer",
        Position::FillValve | Position::FlowRestrictor => "the valve that lets the water in",
        Position::Sump | Position::SumpSeat | Position::LevelSensor => {
            "the water that the machine keeps for the wash"
        }
        Position::WashPump | Position::WashMotor | Position::RunCapacitor => "the wash pump",
        Position::PumpHose | Position::SprayManifold => "the spray",
        Position::DrainPump | Position::DrainTrap => "the machine's own drain",
        Position::DoorSwitch => "the switch at the door",
        Position::DoorGasket => "the seal of the door",
        Position::DoorBuffer => "the hinge of the door",
        Position::ChemicalLoad => "the cleaning chemical",
        Position::DosingPump => "the dosing of the cleaning chemical",
        Position::Rinse => "the rinsing",
        Position::SteamGenerator => "the steam",
        Position::Heater | Position::FanMotor => "the heating",
        Position::CavityProbe => "the thermometer of the machine",
        Position::FillValveDriver | Position::Wiring | Position::ControlBoard => {
            "the electrics of the machine"
        }
    }
}
