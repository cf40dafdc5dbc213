//! The cook: sees what a cycle did and not why, gets used to it, and says it in his own words.

use domain::vocabulary::Symptom;

use crate::defect::{Defect, Severities};
use crate::physics::{Machine, Performance};
use crate::random::Random;

/// What is there to be seen, each with the chance per day that somebody calls because of it.
pub fn complaints(
    performance: &Performance,
    severities: &Severities,
    machine: &Machine,
) -> Vec<(Symptom, f64)> {
    let design = &machine.design;
    let has_steam = design.has(domain::vocabulary::Position::SteamGenerator);
    let below = |value: f64, bearable: f64| ((bearable - value) / bearable).clamp(0.0, 1.0);
    let p = performance;
    let dirty = below(p.cleaning, 0.67);
    let running = p.starts.min(1.0);
    let mut list = vec![
        // a calm background: questions, doubts, a cycle that was disturbed
        (Symptom::Other, 0.000_12),
        (Symptom::MessageShown, 0.000_08),
        (Symptom::NoStart, 0.6 * (1.0 - running)),
        (Symptom::NoWaterHeard, if p.fill_l_per_min < 0.5 { 0.4 } else { 0.0 }),
        (Symptom::DoesNotClean, if p.cleaning < 0.3 { 0.25 * running } else { 0.0 }),
        (Symptom::CleansPartly, 0.25 * dirty * dirty * running),
        (Symptom::StopsMidway, 0.3 * (1.0 - p.runs_through) * running),
        (Symptom::ResidueLeft, 0.05 * below(p.rinse, 0.7) + 0.03 * severities[Defect::ChemicalWrong]),
        (
            Symptom::StandingWater,
            0.3 * below(p.drain, 0.45).powi(2) + 0.05 * (p.trickle_l - 3.0).clamp(0.0, 1.0),
        ),
        (Symptom::BacksUp, 0.3 * (severities[Defect::BuildingDrainBlocked] - 0.7).max(0.0)),
        (Symptom::LeaksBelow, 0.05 * ((p.leak_below_l - 0.15) / 0.5).clamp(0.0, 1.0)),
        (Symptom::LeaksFront, 0.05 * ((p.leak_l - 0.15) / 0.5).clamp(0.0, 1.0)),
        (Symptom::Overfills, 0.03 * (p.trickle_l - 2.0).clamp(0.0, 1.0)),
        (Symptom::SlowHeat, 0.06 * below(p.heat, 0.75).powi(2)),
        (Symptom::NoHeat, if p.heat < 0.1 { 0.4 } else { 0.0 }),
        (
            Symptom::WrongTemperature,
            0.04 * (severities[Defect::ProbeDrifted] - 0.4).max(0.0)
                + 0.04 * (severities[Defect::CutOutOpens] - 0.4).max(0.0),
        ),
        (Symptom::NoChemicalUsed, 0.05 * (severities[Defect::DosingWeak] - 0.5).max(0.0)),
        (
            Symptom::Noisy,
            0.012 * (severities[Defect::WashPumpFades] - 0.4).max(0.0)
                + 0.012 * (severities[Defect::HoseDrawsAir] - 0.4).max(0.0)
                + 0.02 * (severities[Defect::RunCapacitorWeak] - 0.4).max(0.0),
        ),
        (
            Symptom::TripsSupply,
            0.25 * (severities[Defect::InsulationLow] - 0.45).max(0.0)
                + 0.04 * (severities[Defect::InsulationDamp] - 0.4).max(0.0),
        ),
        (
            Symptom::MessageShown,
            0.06 * (severities[Defect::BoardWet] - 0.2).max(0.0)
                + 0.03 * (severities[Defect::LevelSensorFouled] - 0.45).max(0.0)
                + 0.04
                    * (severities[Defect::DoorSwitchFails].max(severities[Defect::DoorMagnet]) - 0.35)
                        .max(0.0),
        ),
        (
            Symptom::Intermittent,
            0.02 * severities[Defect::Intermittent] + 0.008 * severities[Defect::DoorSwitchSticks],
        ),
    ];
    if has_steam {
        list.push((Symptom::NoSteam, if p.steam < 0.3 { 0.35 } else { 0.05 * below(p.steam, 0.7).powi(2) }));
    }
    list
}

/// What kitchens complain of most; a call that is noted down wrongly is noted as one of these.
const USUAL: [Symptom; 8] = [
    Symptom::DoesNotClean,
    Symptom::CleansPartly,
    Symptom::StopsMidway,
    Symptom::NoStart,
    Symptom::StandingWater,
    Symptom::ResidueLeft,
    Symptom::MessageShown,
    Symptom::Other,
];

/// What is noted of what the cook saw: one call in ten is noted as something else, half of them as
/// something beside it.
pub fn described(seen: Symptom, random: &mut Random) -> Symptom {
    if !random.chance(0.1) {
        return seen;
    }
    if random.chance(0.5) {
        return *random.pick(&USUAL);
    }
    match seen {
        Symptom::CleansPartly => Symptom::DoesNotClean,
        Symptom::DoesNotClean => *random.pick(&[Symptom::CleansPartly, Symptom::ResidueLeft]),
        Symptom::NoWaterHeard | Symptom::StopsMidway => {
            *random.pick(&[Symptom::NoStart, Symptom::MessageShown])
        }
        Symptom::NoStart => Symptom::MessageShown,
        Symptom::LeaksFront => Symptom::LeaksBelow,
        Symptom::StandingWater => *random.pick(&[Symptom::BacksUp, Symptom::Overfills]),
        Symptom::SlowHeat => Symptom::WrongTemperature,
        _ => Symptom::Other,
    }
}

pub fn words(symptom: Symptom, random: &mut Random) -> String {
    let said: &[&str] = match symptom {
        Symptom::NoStart => {
            &["It will not start washing.", "We press clean and nothing happens.", "The wash does not begin."]
        }
        Symptom::StopsMidway => &["It stops in the middle of the wash.", "The clean breaks off every time."],
        Symptom::DoesNotClean => &[
            "It runs all night and is as dirty as before.",
            "The oven no longer cleans itself.",
            "The wash does nothing.",
        ],
        Symptom::CleansPartly => &[
            "The back wall stays greasy.",
            "It cleans, but not like it used to.",
            "One side is clean, the other is not.",
        ],
        Symptom::ResidueLeft => &["There is white stuff left after the wash.", "It leaves a film and foam."],
        Symptom::NoWaterHeard => &["No water comes in at the start.", "We hear it click, but no water."],
        Symptom::Overfills => &["Too much water comes in.", "It fills by itself when it is off."],
        Symptom::StandingWater => &["Water stays in the bottom.", "It does not empty."],
        Symptom::BacksUp => &["Dirty water comes up from the drain.", "The drain backs up."],
        Symptom::LeaksFront => &["There is a puddle in front of the door.", "Water runs out at the door."],
        Symptom::LeaksRear => &["It is wet behind the machine."],
        Symptom::LeaksBelow => &["There is water under it.", "It drips underneath."],
        Symptom::NoSteam => &["There is no steam.", "The steam is very weak."],
        Symptom::NoHeat => &["It stays cold."],
        Symptom::SlowHeat => &["It takes for ever to heat up.", "It heats much slower than the other one."],
        Symptom::WrongTemperature => &["The temperature is not right.", "Everything comes out too dark."],
        Symptom::NoChemicalUsed => {
            &["The cleaner is still there after the wash.", "It does not take the detergent."]
        }
        Symptom::Noisy => &["It howls when it washes.", "It makes a humming noise."],
        Symptom::Smell => &["It smells odd."],
        Symptom::TripsSupply => &["It throws the breaker.", "The power goes off when it washes."],
        Symptom::MessageShown => &["There is a message on the display.", "It shows a warning and beeps."],
        Symptom::Intermittent => {
            &["Sometimes it works and sometimes not.", "It failed twice this week, now it runs."]
        }
        Symptom::Other => &["Can somebody look at it?", "It is not quite right, we cannot say why."],
    };
    (*random.pick(said)).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::Design;
    use domain::equipment::demo_combi;
    use std::sync::Arc;

    fn strongest(severities: &Severities) -> (Symptom, f64) {
        let machine = Machine::nominal(Arc::new(Design::of(demo_combi()).unwrap()));
        let surroundings = crate::physics::calm_surroundings(3.0);
        let performance = Performance::of(&machine, severities, &surroundings);
        let list = complaints(&performance, severities, &machine);
        list.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap()
    }

    #[test]
    fn a_sound_machine_is_called_about_once_in_a_decade() {
        let machine = Machine::nominal(Arc::new(Design::of(demo_combi()).unwrap()));
        let severities = Severities::default();
        let performance = Performance::of(&machine, &severities, &crate::physics::calm_surroundings(3.0));
        let a_year: f64 =
            complaints(&performance, &severities, &machine).iter().map(|(_, chance)| chance * 365.0).sum();
        assert!((0.03..0.3).contains(&a_year), "{a_year}");
    }

    #[test]
    fn serious_defects_are_called_about_by_what_they_look_like() {
        let of_severity = |defect, severity| strongest(&Severities::default().with(defect, severity)).0;
        let of = |defect| of_severity(defect, 1.0);
        assert_eq!(of(Defect::FillValveCoilOpen), Symptom::NoStart);
        assert_eq!(of(Defect::DrainPumpDead), Symptom::StandingWater);
        assert_eq!(of(Defect::GasketTorn), Symptom::LeaksFront);
        assert_eq!(of(Defect::InsulationLow), Symptom::StopsMidway);
        assert_eq!(of_severity(Defect::WashPumpClogged, 0.8), Symptom::CleansPartly);
        assert_eq!(
            of(Defect::WashPumpClogged),
            Symptom::DoesNotClean,
            "where nothing moves nothing is clean"
        );
        assert_eq!(of(Defect::HoseLeaks), Symptom::LeaksBelow);
        assert_eq!(of(Defect::FillValveSticks), Symptom::NoStart);
    }
}
