//! What the readings of a kitchen say of each of its machines.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{on_site, order};
use crate::company::{self, Company, DISPATCHER, id};

async fn send(company: &Company, runs: &[Value]) {
    let answer = company.post("/v1/test-runs", DISPATCHER, json!({"runs": runs})).await.expect(200);
    for item in answer.body["items"].as_array().unwrap() {
        assert_eq!(item["status"], "created", "{:#}", answer.body);
    }
}

fn run(n: u32, appliance: &str, procedure: &str, taken_at: &str, readings: &Value) -> Value {
    json!({
        "id": id(n), "appliance_id": appliance, "procedure": {"key": procedure, "version": 1},
        "phase": "before_repair", "device_id": "phone-1", "sequence": n, "taken_at": taken_at,
        "readings": readings,
    })
}

fn of_order(mut run: Value) -> Value {
    run["work_order_id"] = json!(id(2));
    run
}

fn pressure(n: u32, appliance: &str, taken_at: &str, bar: f64) -> Value {
    let readings = json!([{"step": "static_pressure", "value": {"value": 1.0, "unit": "bar"}},
                          {"step": "dynamic_pressure", "value": {"value": bar, "unit": "bar"}}]);
    run(n, appliance, "inlet_pressure", taken_at, &readings)
}

fn fill_and_strainers() -> [Value; 2] {
    let fill = json!([{"step": "fill_time", "value": {"value": 22.01, "unit": "s"}}]);
    let look =
        json!([{"step": "inlet_strainer", "choice": "clear"}, {"step": "valve_strainer", "choice": "clear"}]);
    let [mut fill, look] = [
        of_order(run(0x31, &company::appliance(), "fill_time", "2026-03-02T10:10:00Z", &fill)),
        of_order(run(0x32, &company::appliance(), "strainer_look", "2026-03-02T10:12:00Z", &look)),
    ];
    fill["conditions"] = json!({"confirmed": ["sump_empty"]});
    [fill, look]
}

async fn fill_verdict(company: &Company) -> Value {
    let answer = company.get(&format!("{}/verdicts", order()), DISPATCHER).await.expect(200);
    let verdicts = answer.body["verdicts"].as_array().unwrap().clone();
    verdicts.into_iter().find(|verdict| verdict["step"] == "fill_time").unwrap()
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_pressure_read_at_one_machine_counts_for_the_kitchens_others(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    company.at("2026-03-02T18:00:00Z");
    send(&company, &fill_and_strainers()).await;
    let alone = fill_verdict(&company).await;
    assert_eq!(alone["at_reference"]["conformity"], "inconclusive", "{alone:#}");

    // Too long ago, and in another kitchen: neither counts.
    let elsewhere = company::appliance_elsewhere();
    send(&company, &[pressure(0x33, &company::second_appliance(), "2026-03-01T09:00:00Z", 0.944)]).await;
    send(&company, &[pressure(0x34, &elsewhere, "2026-03-02T10:20:00Z", 0.944)]).await;
    assert_eq!(fill_verdict(&company).await, alone);

    send(&company, &[pressure(0x35, &company::second_appliance(), "2026-03-02T14:00:00Z", 0.944)]).await;
    let helped = fill_verdict(&company).await;
    assert_eq!(helped["at_reference"]["conformity"], "pass", "{helped:#}");
    let sentence = helped["sentence"].as_str().unwrap();
    assert!(sentence.contains("the pressure was read at another machine of the kitchen"), "{sentence}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_fill_that_states_its_own_pressure_needs_no_other_run(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    company.at("2026-03-02T18:00:00Z");
    let [mut fill, look] = fill_and_strainers();
    fill["conditions"]["dynamic_pressure"] = json!({"value": 0.944, "unit": "bar"});
    send(&company, &[fill, look]).await;
    let verdict = fill_verdict(&company).await;
    assert_eq!(verdict["at_reference"]["conformity"], "pass", "{verdict:#}");
    let answer = company.get(&format!("{}/verdicts", order()), DISPATCHER).await.expect(200);
    let conditions = answer.body["conditions"].as_array().unwrap();
    let supply = conditions.iter().find(|condition| condition["position"] == "site_pressure").unwrap();
    assert_eq!(supply["condition"], "failed", "{supply:#}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_fault_inside_an_optional_value_is_told_where_it_lies(pool: PgPool) {
    let company = Company::over(pool).await;
    let refused = async |value: Value| {
        let fill = run(
            0x31,
            &company::appliance(),
            "fill_time",
            "2026-03-01T10:10:00Z",
            &json!([{"step": "fill_time", "value": value}]),
        );
        let answer = company.post("/v1/test-runs", DISPATCHER, json!({"runs": [fill]})).await.expect(200);
        let problem = &answer.body["items"][0]["problem"];
        problem["errors"].as_array().unwrap_or_else(|| panic!("{:#}", answer.body)).clone()
    };
    let at = "/readings/0/value";
    let unknown = refused(json!({"value": 13, "unit": "s", "bound": "at_least"})).await;
    assert_eq!(unknown.len(), 1, "{unknown:#?}");
    assert_eq!(unknown[0]["pointer"], at);
    assert!(unknown[0]["detail"].as_str().unwrap().starts_with("unknown_field: bound"), "{unknown:#?}");

    let two = refused(json!({"value": "13", "unit": "", "instrument": {"kind": "sundial"}})).await;
    let mut places: Vec<_> = two.iter().map(|fault| fault["pointer"].as_str().unwrap()).collect();
    places.sort_unstable();
    let kind = format!("{at}/instrument/kind");
    assert_eq!(places, [&kind, &format!("{at}/unit"), &format!("{at}/value")], "{two:#?}");

    let certain = refused(json!({"value": 13, "unit": "s", "uncertainty": 0})).await;
    assert_eq!(certain[0]["pointer"], format!("{at}/uncertainty"));
    let text = refused(json!(13)).await;
    assert_eq!(text[0]["pointer"], at);
    assert!(text[0]["detail"].as_str().unwrap().contains("object"), "{text:#?}");
}
