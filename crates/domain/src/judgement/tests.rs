use serde_json::json;

use super::*;
use crate::equipment::{demo_combi, demo_combi_faults};
use crate::procedure::built_in_procedures;
use crate::vocabulary::Condition;

fn knowledge() -> Knowledge {
    Knowledge {
        model: demo_combi().clone(),
        faults: Some(demo_combi_faults().clone()),
        procedures: built_in_procedures().to_vec(),
    }
}

fn slow_fill() -> TestRun {
    serde_json::from_value(json!({
        "id": "01890a5d-ac96-774b-bcce-b302099a8057", "appliance": "01890a5d-ac96-774b-bcce-b302099a8058",
        "procedure": built_in_procedures().iter().find(|of| of.key.as_str() == "fill_time").unwrap().id(),
        "phase": "before_repair", "epoch": 0, "device_id": "phone", "sequence": 1,
        "taken_at": "2026-06-01T10:00:00Z",
        "conditions": {"confirmed": ["sump_empty"], "dynamic_pressure": {"text": "3", "value": 3.0, "unit": "bar"}},
        "readings": [{"step": "fill_time", "value": {"text": "60", "value": 60.0, "unit": "s"}}],
    }))
    .unwrap()
}

#[test]
fn what_was_carried_as_text_judges_alike() {
    let evidence = Evidence { runs: vec![slow_fill()], ..Evidence::default() };
    let judged = Judge::new(knowledge()).unwrap().judge(&evidence).unwrap();
    let fill = judged.assessment.verdicts.iter().find(|verdict| verdict.of.step.as_str() == "fill_time");
    assert_eq!(fill.unwrap().condition, Condition::Inconclusive, "the strainers were not looked at");
    assert!(judged.diagnosis.as_ref().unwrap().sets[0].probability > 0.0);
    let carried: Knowledge = serde_json::from_str(&serde_json::to_string(&knowledge()).unwrap()).unwrap();
    let told: Evidence = serde_json::from_str(&serde_json::to_string(&evidence).unwrap()).unwrap();
    assert_eq!(Judge::new(carried).unwrap().judge(&told).unwrap(), judged);
}

#[test]
fn without_faults_it_is_graded_and_not_diagnosed() {
    let judge = Judge::new(Knowledge { faults: None, ..knowledge() }).unwrap();
    let judged = judge.judge(&Evidence { runs: vec![slow_fill()], ..Evidence::default() }).unwrap();
    assert!(judged.diagnosis.is_none() && !judged.assessment.verdicts.is_empty());
}

#[test]
fn a_run_is_checked_before_it_is_kept() {
    let judge = Judge::new(knowledge()).unwrap();
    assert_eq!(judge.check(&slow_fill()).unwrap(), vec![]);
    let mut unknown = slow_fill();
    unknown.procedure.version = 999;
    assert_eq!(judge.check(&unknown).unwrap_err()[0].pointer, "/procedure");
    let mut empty = slow_fill();
    empty.readings.clear();
    assert!(!judge.check(&empty).unwrap_err().is_empty());
}
