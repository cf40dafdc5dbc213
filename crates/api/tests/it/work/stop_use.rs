//! Unsafe stays unsafe: each way out that was once open is tried, by those who tried it.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{book, order, visit};
use crate::company::{self, Company, DISPATCHER, TECHNICIAN, id, uuid};
use crate::service::Answered;

pub fn machine() -> String {
    format!("/v1/appliances/{}", company::appliance())
}

pub async fn state_of(company: &Company) -> String {
    let machine = company.get(&machine(), DISPATCHER).await.expect(200).body;
    machine["state"].as_str().unwrap().to_owned()
}

/// A run with these readings; of the other steps it says that they were not tested.
pub fn run(n: u32, procedure: &str, taken_at: &str, readings: &Value, confirmed: &[&str]) -> Value {
    let built_in = domain::procedure::built_in_procedures();
    let known = built_in.iter().find(|known| known.key.as_str() == procedure).unwrap();
    let read: Vec<&str> =
        readings.as_array().unwrap().iter().map(|reading| reading["step"].as_str().unwrap()).collect();
    let left = known.steps.iter().filter(|step| !step.optional && !read.contains(&step.key.as_str()));
    let not_tested: serde_json::Map<String, Value> =
        left.map(|step| (step.key.to_string(), json!("Not needed here."))).collect();
    json!({
        "id": id(n), "appliance_id": company::appliance(), "work_order_id": id(2), "visit_id": id(3),
        "procedure": {"key": procedure, "version": 1}, "phase": "before_repair", "device_id": "phone-1", "sequence": n,
        "taken_at": taken_at, "readings": readings, "conditions": {"confirmed": confirmed}, "not_tested": not_tested,
    })
}

pub async fn send(company: &Company, run: Value) {
    let answer = company.post("/v1/test-runs", TECHNICIAN, json!({"runs": [run]})).await.expect(200);
    assert_eq!(answer.body["items"][0]["status"], "created", "{:#}", answer.body);
}

fn board(n: u32, taken_at: &str, board: &str) -> Value {
    let readings = json!([{"step": "connectors", "choice": "sound"}, {"step": "board", "choice": board}]);
    run(n, "wiring_look", taken_at, &readings, &["isolation_proven"])
}

fn insulation(n: u32, taken_at: &str, megaohm: f64) -> Value {
    let readings = json!([{"step": "insulation", "value": {"value": megaohm, "unit": "MOhm"}}]);
    run(n, "dead_electrical", taken_at, &readings, &["isolation_proven"])
}

fn door(n: u32, taken_at: &str, pump: &str) -> Value {
    let readings = json!([
        {"step": "as_found", "choice": "none"}, {"step": "shut_recognised", "choice": "at_once"},
        {"step": "opening_recognised", "choice": "at_once"}, {"step": "pump_refuses", "choice": pump},
    ]);
    run(n, "door_switch", taken_at, &readings, &[])
}

/// On site after this call, under repair.
async fn on_site_after(company: &Company, call: Value) {
    company.post("/v1/calls", DISPATCHER, call).await.expect(201);
    company.act(&order(), "assess", DISPATCHER, json!({})).await.expect(200);
    book(company, 3).await.expect(201);
    company.act(&order(), "plan", DISPATCHER, json!({})).await.expect(200);
    company.at("2026-03-02T10:05:00Z");
    company.act(&visit(3), "arrive", TECHNICIAN, json!({})).await.expect(200);
    company.act(&order(), "start_repair", TECHNICIAN, json!({})).await.expect(200);
}

fn dangerous_call() -> Value {
    let mut call = super::call();
    call["dangers"] = json!(["electric"]);
    call["stop_use"] = json!(true);
    call
}

async fn release(company: &Company, token: &str) -> Answered {
    let body = json!({"state": "up", "reason": "It was dried and measured."});
    company.act(&machine(), "release", token, body).await
}

async fn has_skills(company: &Company, skills: &[&str]) {
    let skills: Vec<String> = skills.iter().map(|skill| (*skill).to_owned()).collect();
    let technician = uuid(&company::person(TECHNICIAN));
    sqlx::query!("UPDATE person SET skills = $2 WHERE id = $1", technician, &skills)
        .execute(&company.pool)
        .await
        .unwrap();
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_stopped_machine_is_left_by_its_release_alone(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site_after(&company, dangerous_call()).await;
    assert_eq!(state_of(&company).await, "unsafe_do_not_use");
    let of_order = company.get(&order(), DISPATCHER).await.expect(200).body;
    assert_eq!(of_order["urgency"], "danger", "a danger makes it urgent, whatever was said");

    let patch = json!({"state": "up"});
    let refused = company.on_current("PATCH", &machine(), &machine(), DISPATCHER, patch).await.expect(409);
    assert!(refused.missing().contains("actions/release"), "{}", refused.missing());
    send(&company, board(0x21, "2026-03-02T10:04:00Z", "wet")).await;
    let close = |outcome: &str| json!({"outcome": outcome, "appliance_state": "up"});
    // The visit is kept, and says in which state the machine stands.
    company.at("2026-03-02T10:30:00Z");
    let leave = json!({"result": "diagnosed", "appliance_state": "up"});
    let left = company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200).body;
    assert_eq!(left["appliance_state"], "unsafe_do_not_use");
    assert_eq!(left["left_at"], "2026-03-02T10:30:00.000000Z");
    let refused = company.act(&order(), "close", TECHNICIAN, close("no_fault_found")).await.expect(409);
    assert!(refused.missing().contains("the release of the machine"), "{}", refused.missing());

    let alone = release(&company, TECHNICIAN).await.expect(409);
    assert!(alone.missing().contains("the skill electrical"), "{}", alone.missing());
    release(&company, DISPATCHER).await.expect(403);
    assert_eq!(state_of(&company).await, "unsafe_do_not_use");
    // A referred order ends, and the machine stays listed.
    company.act(&order(), "close", TECHNICIAN, json!({"outcome": "referred"})).await.expect(200);
    let listed = company.get("/v1/appliances?state=unsafe_do_not_use", DISPATCHER).await.expect(200).body;
    assert_eq!(listed["items"][0]["id"], company::appliance());

    let stale = json!({"state": "up", "reason": "Looked at."});
    let released = company.act_as_manager(&machine(), "release", "\"1\"", stale.clone()).await;
    released.expect(412);
    let etag = company.get(&machine(), DISPATCHER).await.etag();
    let unsafe_still = json!({"state": "unsafe_do_not_use", "reason": "Looked at."});
    let refused = company.act_as_manager(&machine(), "release", &etag, unsafe_still).await.expect(422);
    assert_eq!(refused.pointers(), ["/state"]);
    company.act_as_manager(&machine(), "release", &etag, stale).await.expect(200);
    assert_eq!(state_of(&company).await, "up");
    let stops = company.get(&format!("{}/stops", machine()), DISPATCHER).await.expect(200).body;
    let stops = stops["items"].as_array().unwrap().clone();
    assert!(stops.iter().all(|stop| stop["release_reason"] == "Looked at."), "{stops:#?}");
    let etag = company.get(&machine(), DISPATCHER).await.etag();
    let again = json!({"state": "up", "reason": "Twice."});
    company.act_as_manager(&machine(), "release", &etag, again).await.expect(409);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_technician_releases_with_the_skill_and_every_look_after_the_stop(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site_after(&company, dangerous_call()).await;
    has_skills(&company, &["electrical"]).await;
    company.at("2026-03-02T12:00:00Z");
    let lacks =
        |answer: &Answered, what: &str| assert!(answer.missing().contains(what), "{}", answer.missing());
    send(&company, board(0x21, "2026-03-02T10:10:00Z", "dry")).await;
    lacks(&release(&company, TECHNICIAN).await.expect(409), "dead_electrical");
    send(&company, insulation(0x22, "2026-03-02T10:20:00Z", 0.2)).await;
    lacks(&release(&company, TECHNICIAN).await.expect(409), "dead_electrical");
    send(&company, insulation(0x23, "2026-03-02T10:30:00Z", 20.0)).await;
    // The low reading was a new sign: what was looked at before it counts no more.
    lacks(&release(&company, TECHNICIAN).await.expect(409), "wiring_look");
    send(&company, board(0x24, "2026-03-02T10:31:00Z", "dry")).await;
    let action = json!({"id": id(0x41), "position": "wiring", "action": "cleaned", "taken_at": "2026-03-02T10:40:00Z"});
    company.post(&format!("{}/actions-taken", order()), TECHNICIAN, action).await.expect(201);
    // An action may have undone what was seen before it.
    lacks(&release(&company, TECHNICIAN).await.expect(409), "wiring_look");
    send(&company, board(0x25, "2026-03-02T10:50:00Z", "dry")).await;
    send(&company, insulation(0x26, "2026-03-02T10:51:00Z", 20.0)).await;
    let released = release(&company, TECHNICIAN).await.expect(200).body;
    assert_eq!(released["state"], "up");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_reading_that_says_unsafe_makes_it_so_however_late_it_comes(pool: PgPool) {
    let company = Company::over(pool).await;
    super::on_site(&company).await;
    company.at("2026-03-02T12:00:00Z");
    let leave = json!({"result": "diagnosed", "appliance_state": "up"});
    company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200);
    company.act(&order(), "close", TECHNICIAN, json!({"outcome": "no_fault_found"})).await.expect(200);
    assert_eq!(state_of(&company).await, "up");
    send(&company, door(0x21, "2026-03-02T10:30:00Z", "runs")).await;
    assert_eq!(state_of(&company).await, "unsafe_do_not_use");
    let stops = company.get(&format!("{}/stops", machine()), TECHNICIAN).await.expect(200).body;
    assert_eq!(stops["items"][0]["dangers"], json!(["defeated_interlock"]));
    assert_eq!(stops["items"][0]["stopped_at"], "2026-03-02T10:30:00.000000Z");
    // Taken away and brought back, it is unsafe still.
    for (state, stands) in [("removed", Some("removed")), ("up", None)] {
        let patch = json!({"state": state});
        let answer = company.on_current("PATCH", &machine(), &machine(), DISPATCHER, patch).await;
        answer.expect(if stands.is_some() { 200 } else { 409 });
    }
    // The schema itself holds, whatever a program says.
    let by_hand =
        sqlx::query!("UPDATE appliance SET state = 'up' WHERE id = $1", uuid(&company::appliance()));
    assert!(by_hand.execute(&company.pool).await.is_err());
}

#[sqlx::test(migrations = "../../migrations")]
async fn whoever_sees_a_danger_stops_the_use_at_once(pool: PgPool) {
    let company = Company::over(pool).await;
    super::on_site(&company).await;
    let stop = json!({"id": id(0x81), "dangers": ["gas"], "why": "It smells of gas.", "stopped_at": "2026-03-02T10:05:00Z"});
    let path = format!("{}/stops", machine());
    company.post(&path, TECHNICIAN, stop.clone()).await.expect(201);
    company.post(&path, TECHNICIAN, stop).await.expect(200);
    assert_eq!(state_of(&company).await, "unsafe_do_not_use");
    has_skills(&company, &["gas", "electrical"]).await;
    let refused = release(&company, TECHNICIAN).await.expect(409);
    assert!(refused.missing().starts_with("a manager: nothing that can be read"), "{}", refused.missing());
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_danger_in_a_symptom_is_heard(pool: PgPool) {
    let company = Company::over(pool).await;
    let mut trips = super::call();
    trips["orders"][0]["symptoms"] = json!(["trips_supply"]);
    let asked = company.post("/v1/calls", DISPATCHER, trips.clone()).await.expect(422);
    assert_eq!(asked.pointers(), ["/stop_use"]);
    trips["stop_use"] = json!(true);
    let taken = company.post("/v1/calls", DISPATCHER, trips.clone()).await.expect(201).body["call"].clone();
    assert_eq!((&taken["dangers"], &taken["urgency"]), (&json!(["tripping"]), &json!("danger")), "{taken:#}");
    company.post("/v1/calls", DISPATCHER, trips).await.expect(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_bypassed_interlock_is_a_defeat_with_somebody_else_beside_it(pool: PgPool) {
    let company = Company::over(pool).await;
    super::on_site(&company).await;
    company.at("2026-03-02T10:10:00Z");
    let actions = format!("{}/actions-taken", order());
    let magnet = |until: &str| {
        json!({"id": id(0x41), "position": "door_switch", "action": "bypassed_temporary",
            "taken_at": "2026-03-02T10:10:00Z", "expires_at": until})
    };
    let alone = company.post(&actions, TECHNICIAN, magnet("2026-04-01T10:10:00Z")).await.expect(422);
    assert_eq!(alone.pointers(), ["/action"], "a magnet is no stopgap");

    let path = format!("{}/interlock-defeats", order());
    let defeat = |named: &str, whom: Value| {
        let mut body = json!({"id": id(0x61), "expires_at": "2026-03-02T10:20:00Z"});
        body[named] = whom;
        body
    };
    let person = |token: &str| json!(company::person(token));
    for (named, whom) in [
        ("second_person", json!("  Technician ")),
        ("second_person", json!("Other_technician")),
        ("second_person", json!("other  technician")),
        ("second_person", json!("...")),
        ("second_person_id", person(TECHNICIAN)),
        ("second_person_id", json!(id(0x99))),
        ("second_contact_id", json!(id(0x99))),
    ] {
        let refused = company.post(&path, TECHNICIAN, defeat(named, whom.clone())).await.expect(422);
        assert_eq!(refused.pointers(), [format!("/{named}")], "{whom}");
    }
    let mut two = defeat("second_person", json!("the night cook"));
    two["second_contact_id"] = json!(company::contact());
    let refused = company.post(&path, TECHNICIAN, two).await.expect(422);
    assert_eq!(refused.pointers(), ["/second_contact_id", "/second_person"]);
    let nobody = json!({"id": id(0x61), "expires_at": "2026-03-02T10:20:00Z"});
    assert_eq!(company.post(&path, TECHNICIAN, nobody).await.expect(422).pointers(), ["/second_person"]);
    let cook = defeat("second_contact_id", json!(company::contact()));
    company.post(&path, TECHNICIAN, cook).await.expect(201);

    let long = company.post(&actions, TECHNICIAN, magnet("2026-04-01T10:10:00Z")).await.expect(422);
    assert_eq!(long.pointers(), ["/expires_at"], "thirty days are no test");
    company.post(&actions, TECHNICIAN, magnet("2026-03-02T10:20:00Z")).await.expect(201);
    // He drives off with the magnet on: the leave is kept, and so is the danger.
    let leave = json!({"result": "made_safe", "appliance_state": "up"});
    let left = company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200).body;
    assert_eq!(left["appliance_state"], "unsafe_do_not_use");
    let etag = company.get(&machine(), DISPATCHER).await.etag();
    let body = json!({"state": "up", "reason": "He is coming back for it."});
    let refused = company.act_as_manager(&machine(), "release", &etag, body.clone()).await.expect(409);
    assert!(refused.missing().contains("interlock defeat"), "{}", refused.missing());
    let remove = format!("/v1/interlock-defeats/{}/actions/remove", id(0x61));
    company.post(&remove, TECHNICIAN, json!({})).await.expect(200);
    assert_eq!(state_of(&company).await, "unsafe_do_not_use");
    company.act_as_manager(&machine(), "release", &etag, body).await.expect(200);
}
