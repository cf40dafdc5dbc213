//! What a phone sends whose clock is wrong, whose technician was moved away, or whose technician read something odd.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{book, call, on_site, order, visit};
use crate::company::{self, Company, DISPATCHER, OTHER_TECHNICIAN, TECHNICIAN, id};

fn fill(n: u32, taken_at: &str) -> Value {
    json!({
        "id": id(n), "appliance_id": company::appliance(), "work_order_id": id(2),
        "procedure": {"key": "fill_time", "version": 1}, "phase": "before_repair", "device_id": "phone", "sequence": n,
        "taken_at": taken_at, "conditions": {"confirmed": ["sump_empty"]},
        "readings": [{"step": "fill_time", "value": {"value": 12.7, "unit": "s"}}],
    })
}

/// The batch's first item.
async fn send(company: &Company, token: &str, body: Value) -> Value {
    company.post("/v1/test-runs", token, body).await.expect(200).body["items"][0].clone()
}

async fn send_run(company: &Company, token: &str, run: Value) -> Value {
    send(company, token, json!({"runs": [run]})).await
}

fn said(item: &Value) -> (&str, &str, &str) {
    (
        item["status"].as_str().unwrap_or_default(),
        item["problem"]["type"].as_str().unwrap_or_default(),
        item["problem"]["errors"][0]["pointer"].as_str().unwrap_or_default(),
    )
}

const CLOCK: (&str, &str, &str) = ("rejected", "/problems/clock-to-set", "/taken_at");

#[sqlx::test(migrations = "../../migrations")]
async fn a_run_of_the_future_waits_for_the_clock_and_the_others_are_kept(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let ahead = fill(20, "2026-03-02T10:11:00Z");
    let both = json!({"runs": [ahead, fill(21, "2026-03-02T10:04:00Z")]});
    let items = company.post("/v1/test-runs", TECHNICIAN, both).await.expect(200).body["items"].clone();
    assert_eq!(said(&items[0]), CLOCK, "{items:#}");
    assert!(items[0]["problem"]["detail"].as_str().unwrap().contains("set the clock"), "{items:#}");
    assert_eq!(items[1]["status"], "created");
    // Within five minutes it is travel and haste.
    assert_eq!(send_run(&company, TECHNICIAN, fill(22, "2026-03-02T10:09:00Z")).await["status"], "created");
    // Sent again with the clock's own time it is corrected, and kept.
    let again = json!({"sent_at": "2026-03-02T11:05:00Z", "runs": [fill(20, "2026-03-02T11:04:00Z")]});
    assert_eq!(send(&company, TECHNICIAN, again).await["status"], "created");
    let kept = company.get(&format!("/v1/test-runs/{}", id(20)), TECHNICIAN).await.expect(200).body;
    assert_eq!(kept["taken_at"], "2026-03-02T10:04:00.000000Z");
}

/// A wrong clock must never make a record that cannot be read.
#[sqlx::test(migrations = "../../migrations")]
async fn a_correction_out_of_the_range_of_times_is_a_clock_to_set(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    for (n, sent_at, taken_at) in [
        (20, "2090-01-01T00:00:00Z", "2026-03-02T10:00:00Z"),
        (21, "1970-01-01T00:00:00Z", "2199-12-31T23:59:59Z"),
        (22, "2026-03-02T10:05:00Z", "2199-12-31T23:59:59.999999Z"),
    ] {
        let item = send(&company, TECHNICIAN, json!({"sent_at": sent_at, "runs": [fill(n, taken_at)]})).await;
        assert_eq!(said(&item), CLOCK, "{sent_at} {taken_at}");
    }
    let no_time = json!({"sent_at": "9999-01-01T00:00:00Z", "runs": [fill(23, "2026-03-02T10:00:00Z")]});
    company.post("/v1/test-runs", TECHNICIAN, no_time).await.expect(422);
    company.get(&order(), TECHNICIAN).await.expect(200);
    company.get(&format!("{}/verdicts", order()), TECHNICIAN).await.expect(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_was_read_on_a_visit_is_taken_for_ever(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    company.at("2026-03-02T11:00:00Z");
    let instead = json!({"people": [company::person(OTHER_TECHNICIAN)]});
    company.on_current("PATCH", &visit(3), &visit(3), DISPATCHER, instead).await.expect(200);
    company.at("2026-03-05T08:00:00Z");
    company.get(&order(), TECHNICIAN).await.expect(404);
    assert_eq!(send_run(&company, TECHNICIAN, fill(20, "2026-03-02T10:30:00Z")).await["status"], "created");
    let after = send_run(&company, TECHNICIAN, fill(21, "2026-03-02T12:30:00Z")).await;
    assert_eq!(said(&after), ("rejected", "/problems/invalid", "/work_order_id"));
    let why = after["problem"]["detail"].as_str().unwrap();
    assert!(why.contains("until 2026-03-02T11:00:00.000000Z"), "{why}");
    // What he found and did then is taken as well, and what he says to have found later is not.
    let finding = |n: u32, found_at: &str| {
        json!({"id": id(n), "position": "fill_valve", "finding": "degraded", "failure_mode": "slow", "evidence": "timed",
               "found_at": found_at})
    };
    let action = |n: u32, taken_at: &str| json!({"id": id(n), "position": "fill_valve", "action": "cleaned", "taken_at": taken_at});
    let tell = async |below: &str, body: Value| {
        company.post(&format!("{}/{below}", order()), TECHNICIAN, body).await
    };
    tell("findings", finding(30, "2026-03-02T10:40:00Z")).await.expect(201);
    tell("actions-taken", action(31, "2026-03-02T10:45:00Z")).await.expect(201);
    let late = tell("findings", finding(32, "2026-03-02T12:40:00Z")).await.expect(422);
    assert_eq!(late.pointers(), ["/found_at"]);
    let late = tell("actions-taken", action(33, "2026-03-02T12:45:00Z")).await.expect(422);
    assert_eq!(late.pointers(), ["/taken_at"]);
    // He sees what he sent, and nothing else of the order.
    company.get(&format!("/v1/test-runs/{}", id(20)), TECHNICIAN).await.expect(200);
    company.get(&order(), TECHNICIAN).await.expect(404);
    assert_eq!(
        send_run(&company, OTHER_TECHNICIAN, fill(22, "2026-03-04T09:00:00Z")).await["status"],
        "created"
    );
    // Sent to the order again, he is on it again.
    let both = json!({"people": [company::person(OTHER_TECHNICIAN), company::person(TECHNICIAN)]});
    company.on_current("PATCH", &visit(3), &visit(3), DISPATCHER, both).await.expect(200);
    assert_eq!(send_run(&company, TECHNICIAN, fill(23, "2026-03-05T07:59:00Z")).await["status"], "created");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_visit_that_was_called_off_gives_no_reading_but_those_before(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    book(&company, 3).await.expect(201);
    company.at("2026-03-02T09:30:00Z");
    let off = json!({"why": "the kitchen called again"});
    company.act(&visit(3), "call_off", DISPATCHER, off).await.expect(200);
    company.at("2026-03-02T12:00:00Z");
    company.get(&order(), TECHNICIAN).await.expect(404);
    let after = send_run(&company, TECHNICIAN, fill(20, "2026-03-02T11:00:00Z")).await;
    assert_eq!(said(&after), ("rejected", "/problems/invalid", "/work_order_id"));
    assert_eq!(send_run(&company, TECHNICIAN, fill(21, "2026-03-02T09:00:00Z")).await["status"], "created");
    // Nor a machine of a kitchen that he is not sent to, without an order.
    let mut alone = fill(22, "2026-03-02T11:00:00Z");
    alone.as_object_mut().unwrap().remove("work_order_id");
    assert_eq!(
        said(&send_run(&company, TECHNICIAN, alone).await),
        ("rejected", "/problems/invalid", "/appliance_id")
    );
}

#[sqlx::test(migrations = "../../migrations")]
async fn nobody_takes_back_what_a_stranger_read(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let mut run = fill(20, "2026-03-02T10:04:00Z");
    run.as_object_mut().unwrap().remove("work_order_id");
    assert_eq!(send_run(&company, TECHNICIAN, run.clone()).await["status"], "created");
    let elsewhere = json!({
        "id": id(31), "site_id": company::site(), "words": "The other one leaks.", "urgency": "degraded", "stop_use": false,
        "orders": [{"id": id(32), "appliance_id": company::second_appliance(), "symptoms": ["leaks_front"]}],
    });
    company.post("/v1/calls", DISPATCHER, elsewhere).await.expect(201);
    let visit = json!({"id": id(33), "planned_at": "2026-03-02T10:00:00Z", "people": [company::person(OTHER_TECHNICIAN)]});
    company.post(&format!("/v1/work-orders/{}/visits", id(32)), DISPATCHER, visit).await.expect(201);
    let retraction = |n: u32| {
        let mut retraction = run.clone();
        retraction["id"] = json!(id(n));
        retraction["readings"] = json!([]);
        retraction["supersedes_id"] = json!(id(20));
        retraction["retraction_reason"] = json!("not mine");
        retraction
    };
    let refused = send_run(&company, OTHER_TECHNICIAN, retraction(21)).await;
    assert_eq!(said(&refused), ("rejected", "/problems/invalid", "/supersedes_id"), "{refused:#}");
    assert_eq!(send_run(&company, DISPATCHER, retraction(22)).await["status"], "created");
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_cannot_be_is_refused_and_what_hardly_occurs_is_kept_and_doubted(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let mut run = fill(20, "2026-03-02T10:04:00Z");
    run["readings"][0]["value"]["value"] = json!(1e308);
    let refused = send_run(&company, TECHNICIAN, run.clone()).await;
    assert_eq!(said(&refused), ("rejected", "/problems/invalid", "/readings/0/value/value"));
    let pressures = |n: u32, resting: f64, flowing: f64| {
        json!({
            "id": id(n), "appliance_id": company::appliance(), "work_order_id": id(2),
            "procedure": {"key": "inlet_pressure", "version": 1}, "phase": "before_repair", "device_id": "phone",
            "sequence": n, "taken_at": "2026-03-02T10:04:00Z",
            "readings": [{"step": "static_pressure", "value": {"value": resting, "unit": "bar"}},
                {"step": "dynamic_pressure", "value": {"value": flowing, "unit": "bar"}}],
        })
    };
    let odd = pressures(21, 300.0, 2.8);
    let first = send_run(&company, TECHNICIAN, odd.clone()).await;
    assert_eq!(
        (first["status"].as_str(), first["doubtful"].as_array().map(Vec::len)),
        (Some("created"), Some(1))
    );
    assert_eq!(first["doubtful"][0]["perhaps"][0], json!({"value": 300.0, "unit": "kPa"}));
    // Whoever lost the first answer is told again.
    let again = send_run(&company, TECHNICIAN, odd).await;
    assert_eq!((again["status"].as_str(), &again["doubtful"]), (Some("already_there"), &first["doubtful"]));
    let exchanged = send_run(&company, TECHNICIAN, pressures(22, 2.8, 4.1)).await;
    assert!(exchanged["doubtful"][0]["detail"].as_str().unwrap().contains("exchanged"), "{exchanged:#}");
    let ordinary = send_run(&company, TECHNICIAN, pressures(23, 4.1, 2.8)).await;
    assert_eq!((ordinary["status"].as_str(), ordinary.get("doubtful")), (Some("created"), None));
}
