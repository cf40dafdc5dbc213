use super::*;
use crate::equipment::built_in_models;
use crate::procedure::built_in_procedures;
use crate::text::Key;

fn combi() -> &'static Model {
    built_in_models().iter().find(|model| model.key.as_str() == "demo_combi").unwrap()
}

/// A run of a built-in procedure at this minute.
fn run(procedure: &str, minute: u32, readings: &serde_json::Value, confirmed: &[&str]) -> TestRun {
    serde_json::from_value(serde_json::json!({
        "id": format!("01890a5d-ac96-774b-bcce-b3020000{minute:04}"),
        "appliance": "01890a5d-ac96-774b-bcce-b302099a8057", "epoch": 0, "device_id": "phone", "sequence": minute,
        "procedure": {"key": procedure, "version": 1}, "phase": "before_repair",
        "taken_at": format!("2026-03-02T10:{minute:02}:00Z"), "readings": readings,
        "conditions": {"confirmed": confirmed},
    }))
    .unwrap()
}

fn wiring(minute: u32, board: &str, confirmed: &[&str]) -> TestRun {
    let readings =
        serde_json::json!([{"step": "connectors", "choice": "sound"}, {"step": "board", "choice": board}]);
    run("wiring_look", minute, &readings, confirmed)
}

fn insulation(minute: u32, megaohm: f64) -> TestRun {
    let readings = serde_json::json!([{"step": "insulation", "value": {"text": megaohm.to_string(), "value": megaohm, "unit": "MOhm"}}]);
    run("dead_electrical", minute, &readings, &["isolation_proven"])
}

fn door(minute: u32, pump: &str) -> TestRun {
    let readings = serde_json::json!([
        {"step": "shut_recognised", "choice": "at_once"}, {"step": "opening_recognised", "choice": "at_once"},
        {"step": "pump_refuses", "choice": pump},
    ]);
    run("door_switch", minute, &readings, &[])
}

fn check(told: &[Danger], symptoms: &[Symptom], runs: &[TestRun], expected: &[Danger]) {
    let (told, stopped) = (told.iter().copied().collect(), BTreeSet::new());
    let signs = Signs {
        stopped: &stopped,
        told: &told,
        symptoms,
        runs,
        procedures: built_in_procedures(),
        model: combi(),
    };
    assert_eq!(standing(&signs).into_iter().collect::<Vec<_>>(), expected);
}

#[test]
fn what_is_told_stands_until_every_look_for_it_reads_healthy() {
    use Danger::{DefeatedInterlock, Electric, Gas, Tripping};
    let proven = &["isolation_proven"];
    check(&[Electric, Gas], &[], &[], &[Gas, Electric]);
    check(&[], &[Symptom::TripsSupply, Symptom::Noisy], &[], &[Tripping]);
    check(&[Electric], &[], &[wiring(1, "dry", proven)], &[Electric]);
    check(&[Electric], &[], &[wiring(1, "dry", proven), insulation(2, 20.0)], &[]);
    check(&[Electric], &[], &[wiring(1, "dry", &[]), insulation(2, 20.0)], &[Electric]);
    check(&[Electric], &[], &[wiring(1, "dry", proven), insulation(2, 0.5)], &[Electric]);
    check(&[DefeatedInterlock], &[], &[door(1, "refuses")], &[]);
    // Nothing of ours looks for gas: only a person's word ends it.
    check(&[Gas], &[], &[wiring(1, "dry", proven), insulation(2, 20.0), door(3, "refuses")], &[Gas]);
}

#[test]
fn what_is_read_stands_until_the_same_step_is_read_without_it() {
    use Danger::{DefeatedInterlock, Electric};
    check(&[], &[], &[wiring(1, "wet", &[])], &[Electric]);
    check(&[], &[], &[insulation(1, 0.2)], &[Electric]);
    check(&[], &[], &[insulation(1, 20.0)], &[]);
    check(&[], &[], &[door(1, "runs")], &[DefeatedInterlock]);
    check(&[], &[], &[door(2, "runs"), wiring(1, "wet", &[]), door(3, "refuses")], &[Electric]);
    let mut retracted = door(4, "refuses");
    (retracted.supersedes, retracted.retraction_reason) =
        (Some(door(1, "runs").id), Some(crate::text::Words::new("The other machine.").unwrap()));
    retracted.readings.clear();
    check(&[], &[], &[door(1, "runs"), retracted], &[]);
}

#[test]
fn a_machine_under_stop_use_stays_dangerous_whatever_is_read() {
    let (stopped, told) = ([Danger::Electric].into(), BTreeSet::new());
    let runs = [wiring(1, "dry", &["isolation_proven"]), insulation(2, 20.0)];
    let signs = Signs {
        stopped: &stopped,
        told: &told,
        symptoms: &[],
        runs: &runs,
        procedures: built_in_procedures(),
        model: combi(),
    };
    assert_eq!(standing(&signs), stopped);
}

#[test]
fn a_value_that_only_bounds_the_truth_shows_what_it_can() {
    let bounded = |minute: u32, megaohm: f64, censored: &str| {
        let readings = serde_json::json!([
            {"step": "insulation", "value": {"text": megaohm.to_string(), "value": megaohm, "unit": "MOhm"}}
        ]);
        let mut run = run("dead_electrical", minute, &readings, &["isolation_proven"]);
        run.readings[0].value.as_mut().unwrap().censored =
            Some(serde_json::from_value(serde_json::json!(censored)).unwrap());
        run
    };
    let procedure =
        built_in_procedures().iter().find(|procedure| procedure.key.as_str() == "dead_electrical").unwrap();
    let answers = |run: &TestRun| answered_by(run, procedure, combi(), Danger::Electric);
    assert!(answers(&bounded(1, 200.0, "at_least")));
    assert!(!answers(&bounded(1, 0.5, "at_least")));
    assert!(signs(&bounded(1, 0.5, "at_least"), procedure, combi()).is_empty());
    assert!(!answers(&bounded(1, 0.5, "at_most")));
    assert_eq!(signs(&bounded(1, 0.5, "at_most"), procedure, combi()).len(), 1);
}

#[test]
fn looks_are_done_dead_where_electricity_is_the_danger_and_ask_for_its_skill() {
    for danger in [Danger::Electric, Danger::Tripping, Danger::Tingle] {
        let looks: Vec<_> = looks(danger, built_in_procedures(), combi()).collect();
        let keys: Vec<_> = looks.iter().map(|look| look.key.as_str()).collect();
        assert_eq!(keys, ["dead_electrical", "wiring_look"], "{danger}");
        let skill = Key::new(danger.skill().unwrap()).unwrap();
        assert!(looks.iter().all(|look| !look.powered && look.skills.contains(&skill)), "{danger}");
    }
}

#[test]
fn what_must_be_read_live_or_confirms_no_isolation_is_under_power() {
    for procedure in built_in_procedures() {
        let confirms_isolation = procedure.preconditions.iter().any(|precondition| {
            matches!(precondition, crate::procedure::Precondition::Confirmed { key, .. } if key.as_str() == "isolation_proven")
        });
        let live = procedure.skills.iter().any(|skill| skill.as_str() == "live_electrical");
        assert!(!(confirms_isolation && procedure.powered), "{}", procedure.key);
        assert!(!live || procedure.powered, "{}", procedure.key);
    }
    let dead = built_in_procedures().iter().filter(|procedure| !procedure.powered);
    let dead: Vec<_> = dead.map(|procedure| procedure.key.as_str()).collect();
    assert_eq!(
        dead,
        [
            "strainer_look",
            "seal_and_buffer_look",
            "dead_electrical",
            "water_quality",
            "wiring_look",
            "use_review"
        ]
    );
}

#[test]
fn a_technician_releases_what_he_has_the_skill_and_every_look_for() {
    use Danger::{Caustic, DefeatedInterlock, Electric, Gas};
    let electrical = [Key::new("electrical").unwrap()];
    let proven = &["isolation_proven"];
    let (dry, wet, high, low) =
        (wiring(1, "dry", proven), wiring(3, "wet", proven), insulation(2, 20.0), insulation(4, 0.2));
    let lacking = |dangers: &[Danger], skills: &[Key], runs: &[&TestRun]| {
        unreleased(&dangers.iter().copied().collect(), skills, runs, built_in_procedures(), combi())
    };
    let look = |danger, procedure: &str| Unreleased::Look { danger, procedure: Key::new(procedure).unwrap() };
    assert_eq!(lacking(&[Electric], &electrical, &[&dry, &high]), []);
    assert_eq!(
        lacking(&[Electric], &[], &[&dry, &high]),
        [Unreleased::Skill { danger: Electric, skill: "electrical" }]
    );
    assert_eq!(lacking(&[Electric], &electrical, &[&dry]), [look(Electric, "dead_electrical")]);
    assert_eq!(lacking(&[Electric], &electrical, &[&dry, &high, &wet]), [look(Electric, "wiring_look")]);
    assert_eq!(lacking(&[Electric], &electrical, &[&dry, &high, &low]), [look(Electric, "dead_electrical")]);
    assert_eq!(
        lacking(&[DefeatedInterlock], &electrical, &[&door(5, "runs")]),
        [look(DefeatedInterlock, "door_switch")]
    );
    assert_eq!(lacking(&[DefeatedInterlock], &electrical, &[&door(5, "refuses")]), []);
    assert_eq!(lacking(&[Caustic], &[], &[]), [look(Caustic, "rinse_clear")]);
    assert_eq!(lacking(&[], &electrical, &[&dry, &high]), [Unreleased::NoDanger]);
    let gas = [Key::new("gas").unwrap()];
    assert_eq!(lacking(&[Gas], &gas, &[]), [Unreleased::NothingLooks { danger: Gas }]);
}
