//! From the findings to the proof and the end.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{on_site, order, visit};
use crate::company::{self, Company, DISPATCHER, OTHER_TECHNICIAN, TECHNICIAN, id};

/// A run of the technician's phone.
fn run(n: u32, procedure: &str, phase: &str, taken_at: &str, readings: &Value, confirmed: &str) -> Value {
    json!({
        "id": id(n), "appliance_id": company::appliance(), "work_order_id": id(2), "visit_id": id(3),
        "procedure": {"key": procedure, "version": 1}, "phase": phase, "device_id": "phone-1", "sequence": n,
        "taken_at": taken_at, "readings": readings, "conditions": {"confirmed": [confirmed]},
    })
}

fn fill_time(n: u32, phase: &str, taken_at: &str, seconds: f64) -> Value {
    let readings =
        json!([{"step": "fill_time", "value": {"value": seconds, "unit": "s", "uncertainty": 0.3}}]);
    run(n, "fill_time", phase, taken_at, &readings, "sump_empty")
}

fn full_cycle(n: u32, taken_at: &str, outcome: &str) -> Value {
    let readings = json!([
        {"step": "outcome", "choice": outcome},
        {"step": "cleanliness", "choice": if outcome == "completed" { "clean" } else { "dirty" }},
        {"step": "leaks", "choice": "dry"},
    ]);
    run(n, "full_cycle", "after_repair", taken_at, &readings, "chemical_loaded")
}

async fn send(company: &Company, run: Value) {
    let answer = company.post("/v1/test-runs", TECHNICIAN, json!({"runs": [run]})).await.expect(200);
    assert_eq!(answer.body["items"][0]["status"], "created", "{:#}", answer.body);
}

fn finding(n: u32) -> Value {
    json!({
        "id": id(n), "position": "fill_valve", "finding": "degraded", "failure_mode": "slow", "evidence": "timed",
        "found_at": "2026-03-02T10:05:00Z",
    })
}

/// What somebody says who tried the complaint again.
fn gone() -> Value {
    json!({"symptoms": [{"symptom": "does_not_clean", "result": "gone"}]})
}

async fn found(company: &Company, body: Value) -> crate::service::Answered {
    company.post(&format!("{}/findings", order()), TECHNICIAN, body).await
}

async fn act(company: &Company, n: u32, action: &str, at: &str, more: Value) -> crate::service::Answered {
    let mut body = json!({"id": id(n), "position": "fill_valve", "action": action, "taken_at": at});
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    company.post(&format!("{}/actions-taken", order()), TECHNICIAN, body).await
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_order_is_proven_by_what_was_read_after_the_last_action(pool: PgPool) {
    let company = Company::over(pool).await.with_faults().await;
    on_site(&company).await;
    company.at("2026-03-02T12:00:00Z");
    send(&company, fill_time(0x31, "before_repair", "2026-03-02T10:10:00Z", 31.97)).await;
    act(&company, 0x41, "cleaned", "2026-03-02T10:30:00Z", json!({})).await.expect(201);
    act(&company, 0x41, "cleaned", "2026-03-02T10:30:00Z", json!({})).await.expect(200);
    let repaired = json!({"restored_at": "2026-03-02T10:40:00Z"});
    company.act(&order(), "report_repaired", TECHNICIAN, repaired.clone()).await.expect(200);
    let unproven = company.act(&order(), "prove", TECHNICIAN, json!({})).await.expect(409);
    assert!(unproven.missing().starts_with("after-readings of fill_time"), "{}", unproven.missing());
    assert!(unproven.missing().contains("a passed full cycle"), "{}", unproven.missing());
    // The advice asks for the same.
    let for_proof = async || {
        let advice = company.get(&format!("{}/diagnosis", order()), TECHNICIAN).await.expect(200).body;
        let mut due: Vec<String> = serde_json::from_value(advice["next"]["for_proof"].clone()).unwrap();
        due.sort();
        due
    };
    assert_eq!(for_proof().await, ["fill_time", "full_cycle"]);
    send(&company, fill_time(0x32, "after_repair", "2026-03-02T10:41:00Z", 25.0)).await;
    assert_eq!(for_proof().await, ["full_cycle"]);
    send(&company, full_cycle(0x33, "2026-03-02T11:00:00Z", "completed")).await;
    let waiver =
        json!({"id": id(0x51), "what": "after_readings", "code": "kitchen_needs_it", "reason": "Lunch."});
    company.post_as_manager(&format!("{}/waivers", order()), waiver).await.expect(201);
    let failing = company.act(&order(), "prove", TECHNICIAN, json!({})).await.expect(409);
    assert!(failing.missing().contains("they still fail"), "nothing waives that: {}", failing.missing());
    // A change after the report would void it: back to the repair first.
    let early = act(&company, 0x42, "replaced", "2026-03-02T11:10:00Z", json!({})).await.expect(409);
    assert!(early.missing().contains("resume_repair it first"), "{}", early.missing());
    company.act(&order(), "resume_repair", TECHNICIAN, json!({"why": "still slow"})).await.expect(200);
    act(&company, 0x42, "replaced", "2026-03-02T11:10:00Z", json!({})).await.expect(201);
    company.act(&order(), "report_repaired", TECHNICIAN, repaired).await.expect(200);
    send(&company, fill_time(0x34, "after_repair", "2026-03-02T11:20:00Z", 12.7)).await;
    let old = company.act(&order(), "prove", TECHNICIAN, json!({})).await.expect(409);
    assert_eq!(old.missing(), "a passed full cycle after the last action, or a waiver of full_cycle");
    send(&company, full_cycle(0x35, "2026-03-02T11:40:00Z", "stopped")).await;
    company.act(&order(), "prove", TECHNICIAN, json!({})).await.expect(409);
    let mut alkaline = full_cycle(0x36, "2026-03-02T11:45:00Z", "completed");
    let ph = json!({"step": "ph", "value": {"value": 11.0, "unit": "[pH]"}});
    alkaline["readings"].as_array_mut().unwrap().push(ph);
    send(&company, alkaline).await;
    let caustic = company.act(&order(), "prove", TECHNICIAN, json!({})).await.expect(409);
    assert!(caustic.missing().contains("full_cycle"), "{}", caustic.missing());
    let mut rinsed = full_cycle(0x37, "2026-03-02T11:50:00Z", "completed");
    let ph = json!({"step": "ph", "value": {"value": 7.4, "unit": "[pH]"}});
    rinsed["readings"].as_array_mut().unwrap().push(ph);
    send(&company, rinsed).await;
    assert_eq!(company.act(&order(), "prove", TECHNICIAN, gone()).await.expect(200).body["state"], "proven");
    let leave = json!({"result": "repaired", "appliance_state": "up"});
    company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200);
    let closed = json!({"outcome": "repaired", "signed_off_by": company::contact()});
    let closed = company.act(&order(), "close", TECHNICIAN, closed).await.expect(200).body;
    let frozen = sqlx::query_scalar!(r#"SELECT jsonb_array_length(payload) AS "n!" FROM outcome_snapshot"#);
    let frozen = frozen.fetch_all(&company.pool).await.unwrap();
    assert_eq!(frozen, [3], "one snapshot: the epochs before, between and after the two actions");
    assert_eq!((closed["state"].as_str(), closed["outcome"].as_str()), (Some("closed"), Some("repaired")));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_waiver_stands_until_the_machine_is_changed_again(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    company.at("2026-03-02T11:00:00Z");
    act(&company, 0x41, "cleaned", "2026-03-02T10:30:00Z", json!({})).await.expect(201);
    let waivers = format!("{}/waivers", order());
    let waiver =
        json!({"id": id(0x51), "what": "full_cycle", "code": "kitchen_needs_it", "reason": "Lunch."});
    for token in [OTHER_TECHNICIAN, TECHNICIAN, DISPATCHER] {
        company.post(&waivers, token, waiver.clone()).await.expect(403);
    }
    // Whoever may not give it lets the order wait for it.
    let asked = json!({"id": id(0x55), "reason": "waiver", "pauses_clock": false});
    company.post(&format!("{}/waiting", order()), TECHNICIAN, asked).await.expect(201);
    company.post_as_manager(&waivers, waiver.clone()).await.expect(201);
    company.post_as_manager(&waivers, waiver).await.expect(200);
    let waits = company.get(&format!("{}/waiting", order()), DISPATCHER).await.expect(200).body;
    assert_eq!(waits["items"][0]["to_at"], "2026-03-02T11:00:00.000000Z", "{waits:#}");
    let unknown = json!({"id": id(0x52), "what": "everything", "code": "because", "reason": "?"});
    assert_eq!(company.post_as_manager(&waivers, unknown).await.expect(422).pointers(), ["/code", "/what"]);
    company.at("2026-03-02T12:00:00Z");
    act(&company, 0x42, "cleaned", "2026-03-02T11:30:00Z", json!({})).await.expect(201);
    let repaired = json!({"restored_at": "2026-03-02T11:40:00Z"});
    company.act(&order(), "report_repaired", TECHNICIAN, repaired).await.expect(200);
    let unproven = company.act(&order(), "prove", TECHNICIAN, json!({})).await.expect(409);
    assert_eq!(unproven.missing(), "a passed full cycle after the last action, or a waiver of full_cycle");
    let again = json!({"id": id(0x53), "what": "full_cycle", "code": "other", "reason": "Lunch is served."});
    company.post_as_manager(&waivers, again).await.expect(201);
    company.act(&order(), "prove", TECHNICIAN, gone()).await.expect(200);
    let given = company.get(&waivers, DISPATCHER).await.expect(200).body;
    assert_eq!(given["items"].as_array().unwrap().len(), 2);
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_interlock_defeat_has_a_second_person_and_an_end_and_keeps_its_order_open(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let path = format!("{}/interlock-defeats", order());
    let alone = json!({"id": id(0x61), "second_person": TECHNICIAN, "expires_at": "2026-03-02T10:10:00Z"});
    assert_eq!(company.post(&path, TECHNICIAN, alone).await.expect(422).pointers(), ["/second_person"]);
    let long = json!({"id": id(0x61), "second_person": "the cook", "expires_at": "2026-03-02T11:00:00Z"});
    assert_eq!(company.post(&path, TECHNICIAN, long).await.expect(422).pointers(), ["/expires_at"]);
    let defeat = json!({"id": id(0x61), "second_person": "the cook", "expires_at": "2026-03-02T10:10:00Z"});
    company.post(&path, TECHNICIAN, defeat.clone()).await.expect(201);
    company.post(&path, TECHNICIAN, defeat).await.expect(200);
    let second = json!({"id": id(0x62), "second_person": "the cook", "expires_at": "2026-03-02T10:10:00Z"});
    company.post(&path, TECHNICIAN, second).await.expect(409);
    company.at("2026-03-02T11:00:00Z");
    let leave = json!({"result": "diagnosed", "appliance_state": "degraded"});
    company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200);
    let close = json!({"outcome": "no_fault_found"});
    let open = company.act(&order(), "close", TECHNICIAN, close.clone()).await.expect(409);
    assert!(
        open.missing().contains("the removal of the interlock defeat that ends at 2026-03-02T10:10"),
        "{}",
        open.missing()
    );
    let remove = format!("/v1/interlock-defeats/{}/actions/remove", id(0x61));
    let before = json!({"at": "2026-03-02T10:00:00Z"});
    assert_eq!(company.post(&remove, TECHNICIAN, before).await.expect(422).pointers(), ["/at"]);
    company.post(&remove, TECHNICIAN, json!({})).await.expect(200);
    company.post(&remove, TECHNICIAN, json!({})).await.expect(409);
    let left_so = company.act(&order(), "close", TECHNICIAN, close.clone()).await.expect(409);
    assert!(left_so.missing().contains("the release of the machine"), "{}", left_so.missing());
    let machine = format!("/v1/appliances/{}", company::appliance());
    let etag = company.get(&machine, DISPATCHER).await.etag();
    let looked = json!({"state": "up", "reason": "The switch was looked at."});
    company.act_as_manager(&machine, "release", &etag, looked).await.expect(200);
    company.act(&order(), "close", TECHNICIAN, close).await.expect(200);
    let listed = company.get(&path, DISPATCHER).await.expect(200).body;
    assert_eq!(listed["items"][0]["removed_at"], "2026-03-02T11:00:00.000000Z");
}

#[sqlx::test(migrations = "../../migrations")]
async fn findings_are_corrected_beside_what_they_correct_and_counted_as_they_stand(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let counts = || async {
        let rows =
            sqlx::query!("SELECT position, failure_mode, findings FROM fault_count_day WHERE findings > 0")
                .fetch_all(&company.pool)
                .await
                .unwrap();
        rows.into_iter().map(|row| (row.position, row.failure_mode, row.findings)).collect::<Vec<_>>()
    };
    let one = |mode: &str| vec![("fill_valve".to_owned(), mode.to_owned(), 1)];
    found(&company, finding(0x71)).await.expect(201);
    found(&company, finding(0x71)).await.expect(200);
    assert_eq!(counts().await, one("slow"), "a repeated send counts once");
    let wrong = json!({"id": id(0x72), "position": "fill_valve", "finding": "ok", "failure_mode": "slow",
        "mechanism": "wear", "evidence": "timed", "found_at": "2026-03-02T12:00:00Z"});
    let refused = found(&company, wrong).await.expect(422);
    assert_eq!(refused.pointers(), ["/failure_mode", "/found_at", "/mechanism"]);
    let mut corrected = finding(0x73);
    corrected["supersedes_id"] = json!(id(0x71));
    corrected["failure_mode"] = json!("blocked");
    found(&company, corrected).await.expect(201);
    assert_eq!(counts().await, one("blocked"));
    let mut late = finding(0x74);
    late["supersedes_id"] = json!(id(0x71));
    assert_eq!(found(&company, late).await.expect(422).pointers(), ["/supersedes_id"]);
    let mut retraction = finding(0x75);
    retraction["supersedes_id"] = json!(id(0x73));
    retraction["retraction_reason"] = json!("It was the other machine.");
    found(&company, retraction).await.expect(201);
    assert_eq!(counts().await, []);
    let all = company.get(&format!("{}/findings", order()), TECHNICIAN).await.expect(200).body;
    assert_eq!(all["items"].as_array().unwrap().len(), 3);
    company.get(&format!("{}/findings", order()), OTHER_TECHNICIAN).await.expect(404);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_stopgap_says_when_it_ends_and_is_no_repair(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    company.at("2026-03-02T12:00:00Z");
    let at = "2026-03-02T10:30:00Z";
    let endless = act(&company, 0x41, "bypassed_temporary", at, json!({})).await.expect(422);
    assert_eq!(endless.pointers(), ["/expires_at"]);
    let end = json!({"expires_at": "2026-03-09T10:30:00Z"});
    let lasting = act(&company, 0x41, "cleaned", at, end.clone()).await.expect(422);
    assert_eq!(lasting.pointers(), ["/expires_at"]);
    act(&company, 0x41, "bypassed_temporary", at, end).await.expect(201);
    let repaired = json!({"restored_at": "2026-03-02T10:40:00Z"});
    company.act(&order(), "report_repaired", TECHNICIAN, repaired).await.expect(200);
    send(&company, full_cycle(0x33, "2026-03-02T11:00:00Z", "completed")).await;
    company.act(&order(), "prove", TECHNICIAN, gone()).await.expect(200);
    let leave = json!({"result": "made_safe", "appliance_state": "degraded"});
    company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200);
    let close = |outcome: &str| json!({"outcome": outcome});
    let refused = company.act(&order(), "close", TECHNICIAN, close("repaired")).await.expect(409);
    assert!(refused.missing().starts_with("a lasting repair of fill_valve"), "{}", refused.missing());
    company.act(&order(), "close", TECHNICIAN, close("temporary_fix")).await.expect(200);
}

/// Repaired at 10:40 by a cleaning at 10:30, and under the clock of noon.
async fn repaired(company: &Company) {
    on_site(company).await;
    company.at("2026-03-02T12:00:00Z");
    act(company, 0x41, "cleaned", "2026-03-02T10:30:00Z", json!({})).await.expect(201);
    let restored = json!({"restored_at": "2026-03-02T10:40:00Z"});
    company.act(&order(), "report_repaired", TECHNICIAN, restored).await.expect(200);
}

fn cycle(n: u32, taken_at: &str, outcome: &str, cleanliness: &str, leaks: &str) -> Value {
    let readings = json!([
        {"step": "outcome", "choice": outcome}, {"step": "cleanliness", "choice": cleanliness},
        {"step": "leaks", "choice": leaks},
    ]);
    run(n, "full_cycle", "after_repair", taken_at, &readings, "chemical_loaded")
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_cycle_that_cleans_partly_or_seeps_or_ran_before_the_action_ended_proves_nothing(pool: PgPool) {
    let company = Company::over(pool).await;
    repaired(&company).await;
    let attempts = [
        ("2026-03-02T10:30:00Z", "completed", "clean", "dry"),
        ("2026-03-02T11:01:00Z", "completed_with_message", "clean", "dry"),
        ("2026-03-02T11:02:00Z", "completed", "partly", "dry"),
        ("2026-03-02T11:03:00Z", "completed", "clean", "seeps"),
    ];
    for (n, (at, outcome, cleanliness, leaks)) in (0x31..).zip(attempts) {
        send(&company, cycle(n, at, outcome, cleanliness, leaks)).await;
        let refused = company.act(&order(), "prove", TECHNICIAN, gone()).await.expect(409);
        assert!(refused.missing().contains("a passed full cycle"), "{at}: {}", refused.missing());
    }
    send(&company, cycle(0x39, "2026-03-02T11:30:00Z", "completed", "clean", "dry")).await;
    company.act(&order(), "prove", TECHNICIAN, gone()).await.expect(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_symptom_of_the_complaint_is_tried_before_it_is_proven(pool: PgPool) {
    let company = Company::over(pool).await;
    repaired(&company).await;
    send(&company, cycle(0x31, "2026-03-02T11:00:00Z", "completed", "clean", "dry")).await;
    let said = |symptom: &str, result: &str| json!({"symptoms": [{"symptom": symptom, "result": result}]});
    for body in [json!({}), said("noisy", "gone")] {
        let refused = company.act(&order(), "prove", TECHNICIAN, body).await.expect(422);
        assert_eq!(refused.pointers(), ["/symptoms"]);
    }
    let remains = company.act(&order(), "prove", TECHNICIAN, said("does_not_clean", "remains")).await;
    assert!(remains.expect(409).missing().starts_with("the end of does_not_clean"));
    let not_tried = said("does_not_clean", "not_tried");
    let untried = company.act(&order(), "prove", TECHNICIAN, not_tried.clone()).await.expect(409);
    assert!(untried.missing().contains("a waiver of symptoms"), "{}", untried.missing());
    let waiver =
        json!({"id": id(0x51), "what": "symptoms", "code": "no_utilities", "reason": "No dirty plates."});
    company.post_as_manager(&format!("{}/waivers", order()), waiver).await.expect(201);
    company.act(&order(), "prove", TECHNICIAN, not_tried).await.expect(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_later_failing_reading_takes_the_proof_back_and_after_the_end_doubts_it(pool: PgPool) {
    let company = Company::over(pool).await;
    repaired(&company).await;
    let state = || async { company.get(&order(), DISPATCHER).await.expect(200).body };
    send(&company, cycle(0x31, "2026-03-02T11:00:00Z", "completed", "clean", "dry")).await;
    company.act(&order(), "prove", TECHNICIAN, gone()).await.expect(200);
    send(&company, cycle(0x32, "2026-03-02T11:10:00Z", "stopped", "dirty", "dry")).await;
    assert_eq!(state().await["state"], "repaired_unproven");
    company.act(&order(), "close", TECHNICIAN, json!({"outcome": "repaired"})).await.expect(409);
    send(&company, cycle(0x33, "2026-03-02T11:20:00Z", "completed", "clean", "dry")).await;
    company.act(&order(), "prove", TECHNICIAN, gone()).await.expect(200);
    let leave = json!({"result": "repaired", "appliance_state": "up"});
    company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200);
    company.act(&order(), "close", TECHNICIAN, json!({"outcome": "repaired"})).await.expect(200);
    assert_eq!(state().await["proof_doubted_at"], json!(null));
    company.at("2026-03-02T13:00:00Z");
    send(&company, fill_time(0x34, "after_repair", "2026-03-02T11:30:00Z", 31.97)).await;
    let doubted = state().await;
    assert_eq!((&doubted["state"], &doubted["outcome"]), (&json!("closed"), &json!("repaired")));
    assert_eq!(doubted["proof_doubted_at"], "2026-03-02T13:00:00.000000Z");
    let told = sqlx::query_scalar!("SELECT count(*) FROM event WHERE kind = 'work_order.proof_doubted'");
    assert_eq!(told.fetch_one(&company.pool).await.unwrap(), Some(1));
    // What is proposed is taken as it is, and proposed no more.
    let mut proposed = doubted["proposed"].clone();
    proposed["id"] = json!(id(0x40));
    assert_eq!((&proposed["follows_id"], &proposed["symptoms"]), (&json!(id(2)), &json!(["does_not_clean"])));
    company.post("/v1/work-orders", DISPATCHER, proposed).await.expect(201);
    assert_eq!(state().await["proposed"], json!(null));
}

/// Four phones send a failing cycle while the order is proven and closed: whoever comes first, nothing ends as repaired without
/// a word of doubt.
#[sqlx::test(migrations = "../../migrations")]
async fn proof_and_failing_cycles_at_one_instant_do_not_pass_each_other(pool: PgPool) {
    let company = Company::over(pool).await;
    repaired(&company).await;
    send(&company, cycle(0x31, "2026-03-02T11:00:00Z", "completed", "clean", "dry")).await;
    let leave = json!({"result": "repaired", "appliance_state": "up"});
    company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200);
    let mut racing = tokio::task::JoinSet::new();
    for n in 0..4 {
        let company = company.clone();
        racing.spawn(async move {
            send(&company, cycle(0x41 + n, "2026-03-02T11:10:00Z", "stopped", "dirty", "dry")).await;
        });
    }
    let closer = company.clone();
    racing.spawn(async move {
        closer.act(&order(), "prove", TECHNICIAN, gone()).await;
        closer.act(&order(), "close", TECHNICIAN, json!({"outcome": "repaired"})).await;
    });
    while let Some(ended) = racing.join_next().await {
        ended.unwrap();
    }
    let stands = company.get(&order(), DISPATCHER).await.expect(200).body;
    let unproven = stands["state"] == "repaired_unproven";
    let doubted = stands["state"] == "closed" && !stands["proof_doubted_at"].is_null();
    assert!(unproven || doubted, "{stands:#}");
}
