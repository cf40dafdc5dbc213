//! Questions and what is answered to them natively, a line each in turn: all expert cases (`tests/reference/expert`) and as
//! many cases of the simulated company as the argument says. `scripts/engine check` puts the same questions to the module.

use std::error::Error;
use std::io::Write;
use std::path::Path;

use domain::draft::{Draft, Plate};
use domain::equipment::{
    FaultCatalogue, Model, demo_combi, demo_combi_faults, demo_warewasher, demo_warewasher_faults,
};
use domain::procedure::{Procedure, built_in_procedures};
use engine::Engine;
use serde_json::{Value, json};
use simulator::cases::physical::{PhysicalCase, PhysicalCases};

type Fallible = Result<(), Box<dyn Error>>;

fn main() -> Fallible {
    let simulated: usize = std::env::args().nth(1).map_or(Ok(300), |count| count.parse())?;
    let mut asked = Asked { engine: Engine::default(), out: std::io::stdout().lock() };
    for (model, faults) in
        [(demo_combi(), demo_combi_faults()), (demo_warewasher(), demo_warewasher_faults())]
    {
        asked.learn(model, faults)?;
        let cases = PhysicalCases::new(7, model.key.as_str())?;
        for (number, case) in cases.take(simulated / 2).enumerate() {
            asked.simulated(number, case)?;
        }
    }
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/expert");
    for name in ["public.json", "steamer.json"] {
        let file: Value = serde_json::from_str(&std::fs::read_to_string(folder.join(name))?)?;
        if let Some(plate) = file.get("plate") {
            let draft = Draft::of(&serde_json::from_value::<Plate>(plate.clone())?)
                .map_err(|violations| format!("{violations:?}"))?;
            asked.learn(&draft.model, &draft.faults)?;
        }
        for case in file["cases"].as_array().into_iter().flatten() {
            asked.expert(case)?;
        }
    }
    Ok(())
}

struct Asked<W> {
    engine: Engine,
    out: W,
}

impl<W: Write> Asked<W> {
    fn put(&mut self, question: &Value) -> Fallible {
        let question = question.to_string();
        let answer = self.engine.answer(question.as_bytes());
        if answer.starts_with(b"{\"refused") || answer.starts_with(b"{\"violations") {
            return Err(format!("{}: {question}", String::from_utf8_lossy(&answer)).into());
        }
        writeln!(self.out, "{question}\n{}", String::from_utf8(answer)?)?;
        Ok(())
    }

    fn learn(&mut self, model: &Model, faults: &FaultCatalogue) -> Fallible {
        let knowledge = json!({"model": model, "faults": faults, "procedures": built_in_procedures()});
        self.put(&json!({"ask": "learn", "name": model.key, "knowledge": knowledge}))
    }

    fn judge(&mut self, model: &Value, intake: &Value, altitude: &Value, runs: &Value) -> Fallible {
        let background = json!({
            "intake": intake, "standing": {"epoch": 0, "findings": [], "wet_work": false},
            "altitude_m": altitude, "failed_before": [], "stopped": [], "told": [], "symptoms": [],
        });
        let evidence = json!({
            "runs": runs, "site_runs": [], "older_procedures": [], "appliance_limits": [], "own": [], "fleet": [],
            "background": background,
        });
        self.put(&json!({"ask": "judge", "name": model, "evidence": evidence}))
    }

    /// Each with more of its checklist than the one before, so that much and little evidence are both asked about.
    fn simulated(&mut self, number: usize, mut case: PhysicalCase) -> Fallible {
        case.runs.truncate(1 + number % case.runs.len().max(1));
        let answers: Vec<_> = case
            .intake
            .iter()
            .map(|(question, answer)| json!([question.trim_start_matches("intake/"), answer]))
            .collect();
        let intake = json!({"complaint": case.complaint, "answers": answers});
        self.judge(&json!(case.model), &intake, &Value::Null, &json!(case.runs))
    }

    /// A series is asked about with each of the values that its reading takes.
    fn expert(&mut self, case: &Value) -> Fallible {
        let answers = case["answers"].as_object().into_iter().flatten();
        let answers: Vec<_> = answers.map(|(question, answer)| json!([question, answer])).collect();
        let intake = json!({"complaint": case["complaint"], "answers": answers});
        let read = case["series"]["reading"].as_str().and_then(|reading| reading.split_once('/'));
        let values = case["series"]["values"].as_array().cloned().unwrap_or(vec![Value::Null]);
        for value in values {
            let mut runs = case["runs"].clone();
            for run in runs.as_array_mut().into_iter().flatten() {
                if let Some((_, step)) = read.filter(|(procedure, _)| run["procedure"] == *procedure) {
                    run["read"][step] = value.clone();
                }
            }
            let runs = runs.as_array().into_iter().flatten().enumerate();
            let runs: Result<Vec<Value>, _> = runs.map(|(index, run)| expert_run(index, run)).collect();
            self.judge(&case["model"], &intake, &Value::Null, &json!(runs?))?;
        }
        Ok(())
    }
}

fn expert_run(index: usize, run: &Value) -> Result<Value, Box<dyn Error>> {
    let procedure = procedure(run["procedure"].as_str().unwrap_or_default())?;
    let readings: Vec<Value> = run["read"].as_object().into_iter().flatten().map(reading).collect();
    let mut conditions = serde_json::Map::new();
    for (key, value) in run["conditions"].as_object().into_iter().flatten() {
        conditions.insert(key.clone(), value.as_str().map_or(value.clone(), measured));
    }
    conditions.insert("confirmed".to_owned(), run.get("confirmed").cloned().unwrap_or(json!([])));
    Ok(json!({
        "id": format!("01890a5d-ac96-774b-bcce-{index:012x}"), "appliance": "01890a5d-ac96-774b-bcce-b302099a8057",
        "procedure": procedure.id(), "phase": "before_repair", "epoch": 0, "device_id": "expert", "sequence": index,
        "taken_at": format!("2026-06-01T10:{index:02}:00Z"), "conditions": conditions, "readings": readings,
    }))
}

fn procedure(key: &str) -> Result<&'static Procedure, Box<dyn Error>> {
    let found = built_in_procedures().iter().find(|procedure| procedure.key.as_str() == key);
    found.ok_or_else(|| format!("there is no procedure {key}").into())
}

fn reading((step, read): (&String, &Value)) -> Value {
    let text = read.as_str().unwrap_or_default();
    match measured(text) {
        Value::Null => json!({"step": step, "choice": text}),
        value => json!({"step": step, "value": value}),
    }
}

/// `60 s` or `60 s at_least`; null if it begins with no number.
fn measured(text: &str) -> Value {
    let mut words = text.split_whitespace();
    let number = words.next().and_then(|word| word.parse::<f64>().ok());
    let (Some(value), Some(unit)) = (number, words.next()) else { return Value::Null };
    match words.next() {
        Some(bound) => json!({"text": text, "value": value, "unit": unit, "censored": bound}),
        None => json!({"text": text, "value": value, "unit": unit}),
    }
}
