//! What callers answer to the questions of the intake, as far as somebody asks them.

use domain::vocabulary::Position;

use crate::defect::{Defect, Severities};
use crate::history::Code;
use crate::physics::{Machine, Output, Performance, Surroundings};
use crate::random::Random;

/// Chance that a question is asked, and that its answer is the wrong one.
const ASKED: f64 = 0.7;
const WRONG: f64 = 0.06;
/// Chance that a cook noticed what is there to be heard or seen by the way.
const NOTICED: f64 = 0.8;

/// Answers by the names under which the catalogue of faults knows the questions.
pub fn answers(
    machine: &Machine,
    severities: &Severities,
    surroundings: &Surroundings,
    random: &mut Random,
) -> Vec<(Code, Code)> {
    let performance = Performance::of(machine, severities, surroundings);
    let is = |defect| severities.has(defect);
    let steam = machine.steam_strength(severities, surroundings)
        * machine.command_arrives(Output::Heater, severities);
    // The cook has the machine as it was before for a measure: a tenth less goes unnoticed, half does not.
    let notices_steam = ((0.9 - steam) / 0.4).clamp(0.0, 1.0);
    let noisy =
        performance.hums || severities[Defect::WashPumpFades].max(severities[Defect::HoseDrawsAir]) > 0.5;
    let trips = severities[Defect::InsulationLow].max(severities[Defect::InsulationDamp]) > 0.45;
    let wetted = [Defect::BoardWet, Defect::InsulationLow, Defect::InsulationDamp, Defect::WiringCorroded];
    let hosed = wetted.into_iter().any(is);
    let door = severities[Defect::DoorSwitchFails].max(severities[Defect::DoorMagnet]);
    let too_cold = is(Defect::ProbeDrifted) || is(Defect::CutOutOpens);
    let questions: [(Code, Code, Code, bool); 18] = [
        ("intake/other_taps", "normal", "weak", is(Defect::SupplyPressureLow)),
        ("intake/cycle_starts", "starts", "does_not", performance.starts < 0.5),
        ("intake/water_heard", "heard", "not_heard", performance.fill_l_per_min < 3.0),
        ("intake/spray_reaches", "far_wall", "not_so_far", performance.flow * performance.pattern < 0.6),
        ("intake/standing_water", "none", "stands", performance.drain < 0.25 || performance.trickle_l > 2.5),
        ("intake/floor_drain", "free", "backs_up", severities[Defect::BuildingDrainBlocked] > 0.6),
        ("intake/floor_water", "dry", "wet", performance.leak_l + performance.leak_below_l > 0.25),
        ("intake/still_heats", "yes", "no", performance.heat < 0.4),
        ("intake/chemical", "right_and_enough", "doubtful", is(Defect::ChemicalWrong) && random.chance(0.6)),
        ("intake/cancelled", "no", "yes", is(Defect::Misuse) && random.chance(0.5)),
        ("intake/cavity_strainer", "in_place", "out", is(Defect::Misuse) && machine.weak_circuit < 0.3),
        (
            "intake/door_closes",
            "by_itself",
            "needs_a_push",
            is(Defect::DoorSags) || door > 0.35 && random.chance(0.5),
        ),
        ("intake/treatment", "in_date", "overdue", is(Defect::TreatmentExhausted) && random.chance(0.7)),
        ("intake/hosed_down", "no", "yes", hosed && random.chance(0.5)),
        ("intake/still_steams", "as_before", "weaker_or_none", random.chance(notices_steam)),
        ("intake/temperature", "as_set", "not_as_set", too_cold && random.chance(NOTICED)),
        ("intake/sound", "as_before", "hums_or_howls", noisy && random.chance(NOTICED)),
        ("intake/breaker", "holds", "trips", trips && random.chance(NOTICED)),
    ];
    let lacks_what_is_asked_about = |question| match question {
        "intake/treatment" => !machine.design.has(Position::Treatment),
        "intake/still_steams" => !machine.design.has(Position::SteamGenerator),
        _ => false,
    };
    let mut answers = Vec::new();
    for (question, usual, unusual, truly) in questions {
        if lacks_what_is_asked_about(question) || !random.chance(ASKED) {
            continue;
        }
        let said = truly != random.chance(WRONG);
        answers.push((question, if said { unusual } else { usual }));
    }
    answers
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::{calm_surroundings, worked_design};

    /// Share of the answers to a question that are this one.
    fn share(question: Code, answer: Code, severities: &Severities) -> f64 {
        let machine = Machine::nominal(worked_design());
        let mut random = Random::new(5, 0);
        let told: Vec<Code> = (0..2000)
            .flat_map(|_| answers(&machine, severities, &calm_surroundings(3.0), &mut random))
            .filter(|(asked, _)| *asked == question)
            .map(|(_, answer)| answer)
            .collect();
        assert!((told.len() as f64 / 2000.0 - ASKED).abs() < 0.05, "{}", told.len());
        told.iter().filter(|told| **told == answer).count() as f64 / told.len() as f64
    }

    #[test]
    fn who_is_asked_tells_what_there_is() {
        let knows = NOTICED * (1.0 - WRONG) + (1.0 - NOTICED) * WRONG;
        let steam = ("intake/still_steams", "weaker_or_none");
        let sound = ("intake/sound", "hums_or_howls");
        for ((question, answer), defect, expected) in [
            (steam, Defect::SteamGeneratorScaled, 1.0 - WRONG),
            (steam, Defect::WashPumpClogged, WRONG),
            (sound, Defect::RunCapacitorWeak, knows),
            (sound, Defect::WashPumpFades, knows),
            (sound, Defect::WashPumpClogged, WRONG),
            (("intake/breaker", "trips"), Defect::InsulationLow, knows),
            (("intake/temperature", "not_as_set"), Defect::ProbeDrifted, knows),
        ] {
            let told = share(question, answer, &Severities::default().with(defect, 0.8));
            assert!((told - expected).abs() < 0.03, "{question} {defect:?}: {told} {expected}");
            let of_sound = share(question, answer, &Severities::default());
            assert!((of_sound - WRONG).abs() < 0.03, "{question}: {of_sound}");
        }
        let one_leg = share(steam.0, steam.1, &Severities::default().with(Defect::ElementOpen, 0.6));
        assert!((0.3..0.9).contains(&one_leg), "{one_leg}");
    }
}
