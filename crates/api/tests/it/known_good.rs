//! Learning over HTTP, on a fleet whose numbers are worked out by hand.

mod fleet;

use std::time::Duration;

use application::learning::Step;
use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use crate::service::Service;
use fleet::{AS_OF, Fleet, day, latest, values};

/// Two-sided factor for coverage 99 % and confidence 95 % at n = 10 (ISO 16269-6; the plan's table).
const FACTOR: f64 = 4.437;

fn close(actual: &Value, expected: f64, relative: f64) {
    let actual = actual.as_f64().unwrap();
    assert!((actual / expected - 1.0).abs() < relative, "{actual}, expected {expected}");
}

fn mean_and_deviation(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt())
}

/// The fleet's interval as it is worked out by hand: on the logarithmic scale, one reading per unit.
fn fleet_interval() -> (f64, f64) {
    let logs: Vec<f64> = (0..10).map(|unit| latest(unit).ln()).collect();
    let (mean, deviation) = mean_and_deviation(&logs);
    ((mean - FACTOR * deviation).exp(), (mean + FACTOR * deviation).exp())
}

/// The spread within units: 10 units read 4 times each, 30 degrees of freedom.
fn within() -> f64 {
    let squares = |unit| {
        let logs = values(unit).map(f64::ln);
        let mean = logs.iter().sum::<f64>() / 4.0;
        logs.iter().map(|value| (value - mean).powi(2)).sum::<f64>()
    };
    ((0..10).map(squares).sum::<f64>() / 30.0).sqrt()
}

async fn ask(service: &Service) -> Value {
    let body = json!({"id": service.id(), "as_of": AS_OF});
    let asked = service.as_role(Role::Manager).post("/v1/knowledge-versions", body).await;
    asked.assert(201);
    asked.body
}

async fn known(service: &Service, query: &str) -> Value {
    let known = service.as_role(Role::Technician).get(&format!("/v1/known-good{query}")).await;
    known.assert(200);
    known.body
}

async fn learn(service: &Service) -> i64 {
    let n = ask(service).await["n"].as_i64().unwrap();
    service.application.learn().await;
    n
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_killed_learning_goes_on_where_it_stood_and_gives_the_same(pool: PgPool) {
    let fleet = Fleet::known_good(pool.clone()).await;
    let service = &fleet.service;
    let nothing = known(service, "").await;
    assert_eq!((&nothing["knowledge_version"], &nothing["items"]), (&Value::Null, &json!([])));
    assert_eq!(service.application.learn_page(4).await.unwrap(), Step::Idle);

    let asked = ask(service).await;
    assert_eq!((asked["n"].as_i64(), &asked["state"]), (Some(1), &json!("running")));
    for _ in 0..2 {
        assert_eq!(service.application.learn_page(4).await.unwrap(), Step::Worked);
    }
    // Killed somewhere in the next page: it was taken whole or not at all.
    let _killed = tokio::time::timeout(Duration::from_millis(2), service.application.learn_page(4)).await;
    let begun = service.administrator().get("/v1/knowledge-versions/1").await;
    let done = begun.body["progress"]["appliances_done"].as_i64().unwrap();
    assert!(done == 8 || done == 12, "{done}");
    assert_eq!(begun.body["progress"]["appliances"], 15);
    assert_eq!((&begun.body["state"], &begun.body["references"]), (&json!("running"), &Value::Null));
    let second = json!({"id": service.id(), "as_of": AS_OF});
    service.administrator().post("/v1/knowledge-versions", second).await.assert_problem(409, "conflict");

    Service::over(pool).await.application.learn().await;
    let made = service.administrator().get("/v1/knowledge-versions/1").await;
    assert_eq!(made.body["state"], "done", "{}", made.body);
    assert_eq!(made.body["progress"], json!({"appliances": 15, "appliances_done": 15, "jobs_unreadable": 0}));
    assert_eq!(made.body["made_from"]["as_of"], made.body["as_of"]);
    assert!(made.body["made_from"]["engine"].as_str().unwrap().starts_with("ovenwright "));
    let first = known(service, "").await;

    assert_eq!(learn(service).await, 2);
    let again = known(service, "").await;
    assert_eq!((&first["knowledge_version"], &again["knowledge_version"]), (&json!(1), &json!(2)));
    assert_eq!(first["items"], again["items"]);
    assert_eq!(known(service, "?version=1").await, first);
    let listed = service.administrator().get("/v1/knowledge-versions").await;
    let listed: Vec<_> =
        listed.body["items"].as_array().unwrap().iter().map(|item| item["n"].clone()).collect();
    assert_eq!(listed, [json!(2), json!(1)]);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_reference_is_the_exact_interval_of_one_good_reading_per_unit(pool: PgPool) {
    let fleet = Fleet::known_good(pool).await;
    learn(&fleet.service).await;
    let known = known(&fleet.service, "?model=demo_combi&procedure=fill_time").await;
    let [reference] = known["items"].as_array().unwrap().as_slice() else { panic!("{known}") };
    let (lower, upper) = fleet_interval();
    close(&reference["interval"]["lower"], lower, 1e-4);
    close(&reference["interval"]["upper"], upper, 1e-4);
    close(&reference["interval"]["factor"], FACTOR, 2e-4);
    assert_eq!(
        (&reference["n"], &reference["method"], &reference["scale"], &reference["sides"], &reference["unit"]),
        (&json!(10), &json!("normal"), &json!("logarithmic"), &json!("both"), &json!("s"))
    );
    assert_eq!((&reference["coverage"], &reference["confidence"]), (&json!(0.99), &json!(0.95)));
    assert_eq!((&reference["flagged"], &reference["without_flagged"]), (&json!([]), &Value::Null));
    assert_eq!(reference["normality"]["warning"], false);
    assert_eq!(
        reference["left_out"],
        json!([
            {"because": "not_usable", "readings": 1},
            {"because": "other_tests_not_passed", "readings": 1},
            {"because": "full_cycle_not_passed", "readings": 1},
            {"because": "called_within_quiet_days", "readings": 1},
            {"because": "quiet_days_not_over", "readings": 1},
            {"because": "later_reading_used", "readings": 30},
        ])
    );
    close(&reference["within_units"]["standard_deviation"], within(), 1e-9);
    let spread = &reference["within_units"];
    assert_eq!((&spread["degrees"], &spread["units"]), (&json!(30), &json!(10)));

    let all = crate::known_good::known(&fleet.service, "").await;
    let external = |item: &&Value| item["procedure"] == "inlet_pressure";
    assert_eq!(all["items"].as_array().unwrap().iter().filter(external).count(), 0);
    let drain = all["items"].as_array().unwrap().iter().find(|item| item["step"] == "drain_time").unwrap();
    assert_eq!((&drain["interval"], &drain["no_interval_because"]), (&Value::Null, &json!("too_few_units")));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_verdict_takes_the_best_reference_and_names_n_and_version(pool: PgPool) {
    let mut fleet = Fleet::known_good(pool).await;
    // Of a unit with four good readings of its own, and of one with none.
    let of_known = fleet.visit(0, 250, 12.3).await;
    let of_new = fleet.visit(13, 251, 12.3).await;
    let before = fleet.healthy(&of_known).await;
    assert_eq!((&before["source"], &before["knowledge_version"]), (&json!("model_typical"), &Value::Null));
    learn(&fleet.service).await;

    let own = fleet.healthy(&of_known).await;
    assert_eq!(
        (&own["source"], &own["n"], &own["knowledge_version"]),
        (&json!("own_readings"), &json!(4), &json!(1))
    );
    let logs = values(0).map(f64::ln);
    let mean = logs.iter().sum::<f64>() / 4.0;
    let half_width = 1.959_963_984_540_054 * within() * 1.25_f64.sqrt();
    close(&own["centre"], mean.exp(), 1e-9);
    close(&own["lower"], (mean - half_width).exp(), 1e-9);
    close(&own["upper"], (mean + half_width).exp(), 1e-9);
    assert_eq!(own["usual"], 12.3 <= (mean + half_width).exp());

    // The unit's only earlier reading is 61 quiet days old by then, and 25 by another.
    assert_eq!(fleet.healthy(&of_new).await["source"], "own_readings");
    let soon = fleet.visit(13, 215, 12.3).await;
    let of_fleet = fleet.healthy(&soon).await;
    assert_eq!(
        (&of_fleet["source"], &of_fleet["n"], &of_fleet["knowledge_version"]),
        (&json!("fleet"), &json!(10), &json!(1))
    );
    let (lower, upper) = fleet_interval();
    close(&of_fleet["lower"], lower, 1e-4);
    close(&of_fleet["upper"], upper, 1e-4);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_repair_of_the_position_ends_what_the_unit_knew_of_itself(pool: PgPool) {
    let mut fleet = Fleet::known_good(pool).await;
    fleet.repair(0, "fill_valve", 200).await;
    fleet.repair(1, "drain_pump", 200).await;
    let (repaired, other) = (fleet.visit(0, 250, 12.3).await, fleet.visit(1, 250, 12.3).await);
    learn(&fleet.service).await;
    assert_eq!(fleet.healthy(&repaired).await["source"], "fleet");
    assert_eq!(fleet.healthy(&other).await["source"], "own_readings");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_person_removes_a_reading_and_takes_it_back(pool: PgPool) {
    let fleet = Fleet::known_good(pool).await;
    let service = &fleet.service;
    let run = fleet.last_fill(0);
    let entry = |reason: Value| json!({"id": service.id(), "test_run_id": run, "step": "fill_time", "reason": reason});
    let post = async |body: Value| service.as_role(Role::Manager).post("/v1/known-good/removals", body).await;

    let removal = entry(json!("written_down_wrongly"));
    let made = post(removal.clone()).await;
    made.assert(201);
    assert_eq!(made.body["decided_by"], service.people[&Role::Manager].to_string());
    post(removal).await.assert(200);
    let read = service.administrator().get(made.header("location")).await;
    assert_eq!(read.body, made.body);

    learn(service).await;
    let without = known(service, "?procedure=fill_time").await;
    let left_out = without["items"][0]["left_out"].as_array().unwrap();
    assert!(left_out.contains(&json!({"because": "removed_by_person", "readings": 1})), "{left_out:?}");
    // An earlier reading of the unit takes its place.
    assert!(left_out.contains(&json!({"because": "later_reading_used", "readings": 29})), "{left_out:?}");

    post(entry(Value::Null)).await.assert(201);
    learn(service).await;
    let with = known(service, "?procedure=fill_time").await;
    close(&with["items"][0]["interval"]["upper"], fleet_interval().1, 1e-4);
    let listed = service.administrator().get(&format!("/v1/known-good/removals?test_run_id={run}")).await;
    assert_eq!(listed.body["items"].as_array().unwrap().len(), 2);

    let mut no_step = entry(json!("read_wrongly"));
    no_step["step"] = json!("no_such_step");
    post(no_step).await.assert_problem(422, "invalid").assert_fault("/step");
    let mut no_run = entry(json!("read_wrongly"));
    no_run["test_run_id"] = json!(service.id());
    post(no_run).await.assert_problem(422, "invalid").assert_fault("/test_run_id");
    post(entry(json!("because_i_say_so"))).await.assert_problem(422, "invalid").assert_fault("/reason");
    let technician =
        service.as_role(Role::Technician).post("/v1/known-good/removals", entry(Value::Null)).await;
    technician.assert(403);
}

#[sqlx::test(migrations = "../../migrations")]
async fn charts_find_a_shift_and_begin_anew_at_a_repair(pool: PgPool) {
    let mut fleet = Fleet::new(pool, 1).await;
    let steady = [0.08, -0.12, 0.1, -0.05, 0.02, -0.03];
    for number in 0..18 {
        fleet.visit(0, number, 12.0 + steady[number as usize % 6]).await;
    }
    for number in 18..30 {
        fleet.visit(0, number, 12.6 + steady[number as usize % 6]).await;
    }
    let path = format!("/v1/appliances/{}/drift", fleet.appliances[0]);
    let chart = async |fleet: &Fleet, as_of: i64| {
        let query = format!("{path}?procedure=fill_time&as_of={}", day(as_of));
        let drift = fleet.service.administrator().get(&query).await;
        drift.assert(200);
        assert_eq!(drift.body["charts"].as_array().unwrap().len(), 1);
        drift.body["charts"][0].clone()
    };
    let before = chart(&fleet, 18).await;
    assert_eq!(
        (&before["n"], &before["drifting_since"], &before["position"]),
        (&json!(18), &Value::Null, &json!("fill_valve"))
    );
    let after = chart(&fleet, 30).await;
    let since = after["drifting_since"].as_str().unwrap();
    assert!(since > day(18).as_str() && since < day(26).as_str(), "{since}");
    // The third score by hand: Student's t of one degree through its closed form, on the logarithmic scale.
    let logs = [12.08_f64.ln(), 11.88_f64.ln(), 12.1_f64.ln()];
    let (mean, deviation) = mean_and_deviation(&logs[..2]);
    let t = (logs[2] - mean) / (deviation * 1.5_f64.sqrt());
    let p = 0.5 + t.atan() / std::f64::consts::PI;
    close(&after["points"][2]["score"], domain::probability::normal_quantile(p), 1e-6);
    assert_eq!(after["points"][1]["score"], Value::Null);
    let last = &after["points"][29];
    assert!(last["alarms"].as_array().unwrap().contains(&json!("average_high")), "{last}");

    // Whoever watches the fleet finds it, once for each time that something came in.
    let warnings = async |fleet: &Fleet, looked: usize| {
        assert_eq!(
            fleet.service.application.watch(None, 100, std::time::Duration::ZERO).await.unwrap(),
            looked
        );
        let report = fleet.service.as_role(Role::Dispatcher).get("/v1/reports/early-warnings").await;
        report.assert(200);
        report.body
    };
    let warned = warnings(&fleet, 1).await;
    let [warning] = warned["items"].as_array().unwrap().as_slice() else { panic!("{warned}") };
    assert_eq!((&warning["appliance_id"], &warning["rises"]), (&json!(fleet.appliances[0]), &json!(true)));
    assert_eq!(
        (&warning["procedure"], &warning["drifting_since"]),
        (&json!("fill_time"), &after["drifting_since"])
    );
    // Geometric mean of the readings before the alarm, most of them from before the shift.
    close(&warning["usual"], 12.05, 0.02);
    close(&warning["last"], 12.57, 0.01);
    assert!(warning["minutes"].as_f64().unwrap() > 0.0 && warning["most_often"].is_string(), "{warning}");
    assert_eq!((&warned["machines"], &warned["left_out"]["mended_since"]), (&json!(1), &json!(0)));
    let rule = warned["rule"]["readings_to_a_false_alarm"].as_f64().unwrap();
    assert!((5_000.0..6_000.0).contains(&rule), "{rule}");
    warnings(&fleet, 0).await;
    let csv =
        fleet.service.administrator().header("accept", "text/csv").get("/v1/reports/early-warnings").await;
    csv.assert(200);

    // The repair is noted with the next reading.
    fleet.repair(0, "fill_valve", 18).await;
    fleet.visit(0, 31, 12.6).await;
    assert_eq!(warnings(&fleet, 1).await["items"], json!([]), "the chart begins anew at the repair");
    let repaired = chart(&fleet, 30).await;
    assert_eq!((&repaired["n"], &repaired["drifting_since"]), (&json!(12), &Value::Null));
    assert_eq!(
        (&repaired["points"][17]["segment"], &repaired["points"][18]["segment"]),
        (&json!(0), &json!(1))
    );

    fleet.service.as_role(Role::Technician).get(&path).await.assert_problem(404, "not-found");
}

#[sqlx::test(migrations = "../../migrations")]
async fn bad_requests_say_what_would_be_right(pool: PgPool) {
    let service = Service::over(pool).await;
    let future = json!({"id": service.id(), "as_of": "9000-01-01T00:00:00Z"});
    let refused = service.administrator().post("/v1/knowledge-versions", future).await;
    refused.assert_problem(422, "invalid").assert_fault("/as_of");
    service.administrator().get("/v1/knowledge-versions/7").await.assert_problem(404, "not-found");
    let missing = service.administrator().get("/v1/known-good?version=7").await;
    missing.assert_problem(404, "not-found");
    // A company without machines learns an empty version.
    assert_eq!(learn(&service).await, 1);
    assert_eq!(known(&service, "").await["items"], json!([]));
}
