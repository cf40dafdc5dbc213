use serde_json::json;
use sqlx::PgPool;

use super::{book, call, on_site, order, visit};
use crate::company::{self, Company, DISPATCHER, OTHER_TECHNICIAN, TECHNICIAN, id};

#[sqlx::test(migrations = "../../migrations")]
async fn moves_want_the_version_and_say_what_is_missing(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    let assess = format!("{}/actions/assess", order());
    company.post(&assess, DISPATCHER, json!({})).await.expect(428);
    let stale = company.send("POST", &assess, DISPATCHER, &[("if-match", "\"7\"")], Some(json!({}))).await;
    assert_eq!(stale.expect(412).body["type"], "/problems/stale");
    let early = company.act(&order(), "plan", DISPATCHER, json!({})).await.expect(409);
    assert_eq!(
        early.missing(),
        "the order is received; plan begins from assessed | a visit that is still to come"
    );
    company.act(&order(), "juggle", DISPATCHER, json!({})).await.expect(400);
    let twice = [("if-match", "\"1\""), ("idempotency-key", "k1")];
    let moved = company.send("POST", &assess, DISPATCHER, &twice, Some(json!({}))).await.expect(200);
    let again = company.send("POST", &assess, DISPATCHER, &twice, Some(json!({}))).await.expect(200);
    assert_eq!((moved.body["state"].as_str(), &moved.body), (Some("assessed"), &again.body));
    let faults =
        json!({"outcome": "repaired", "restored_at": "2026-03-02T08:00:00Z", "appliance_state": "up"});
    let refused = company.act(&order(), "plan", DISPATCHER, faults).await.expect(422);
    assert_eq!(refused.pointers(), ["/appliance_state", "/outcome", "/restored_at"]);
    let actions = company.get(&format!("{}/actions", order()), DISPATCHER).await.expect(200).body;
    let allowed = |name: &str| {
        let found = actions["actions"].as_array().unwrap().iter().find(|action| action["action"] == name);
        found.unwrap()["allowed"].as_bool().unwrap()
    };
    assert!(!allowed("plan") && allowed("cancel") && allowed("close") && !allowed("prove"), "{actions:#}");
    assert_eq!(actions["booking_a_visit"]["allowed"], true);
}

#[sqlx::test(migrations = "../../migrations")]
async fn of_two_moves_at_once_one_is_made(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    let moves = (0..8).map(|n| {
        let company = company.clone();
        let (action, body) =
            if n % 2 == 0 { ("assess", json!({})) } else { ("cancel", json!({"why": "mistake"})) };
        tokio::spawn(async move {
            let path = format!("{}/actions/{action}", order());
            company
                .send("POST", &path, DISPATCHER, &[("if-match", "\"1\"")], Some(body))
                .await
                .status
                .as_u16()
        })
    });
    let mut answers = Vec::new();
    for answer in moves.collect::<Vec<_>>() {
        answers.push(answer.await.unwrap());
    }
    answers.sort_unstable();
    assert_eq!(answers, [200, 412, 412, 412, 412, 412, 412, 412]);
    let audit = sqlx::query_scalar!(
        r#"SELECT count(*) AS "n!" FROM audit WHERE use_case = 'act_on_work_order' AND subject = $1"#,
        company::uuid(&id(2))
    );
    assert_eq!(audit.fetch_one(&company.pool).await.unwrap(), 1);
}

#[sqlx::test(migrations = "../../migrations")]
async fn visits_are_booked_one_at_a_time_and_told_by_their_times(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    let nobody = json!({"id": id(3), "planned_at": "2026-03-02T10:00:00Z", "people": [id(99)]});
    let refused = company.post(&format!("{}/visits", order()), DISPATCHER, nobody).await.expect(422);
    assert_eq!(refused.pointers(), ["/people/0"]);
    book(&company, 3).await.expect(201);
    book(&company, 3).await.expect(200);
    assert!(book(&company, 4).await.expect(409).missing().contains("instead of booking a second one"));
    company.get(&visit(3), OTHER_TECHNICIAN).await.expect(404);
    company.get(&order(), OTHER_TECHNICIAN).await.expect(404);
    let etag = company.get(&visit(3), DISPATCHER).await.expect(200).etag();
    let headers = [("if-match", etag.as_str())];
    let path = format!("{}/actions/arrive", visit(3));
    company.send("POST", &path, OTHER_TECHNICIAN, &headers, Some(json!({}))).await.expect(404);
    let future = json!({"at": "2026-03-02T09:00:00Z"});
    assert_eq!(company.act(&visit(3), "set_out", TECHNICIAN, future).await.expect(422).pointers(), ["/at"]);
    company.at("2026-03-02T10:30:00Z");
    let leave = json!({"result": "diagnosed", "appliance_state": "degraded"});
    company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(409);
    company.act(&visit(3), "arrive", TECHNICIAN, json!({"at": "2026-03-02T10:05:00Z"})).await.expect(200);
    let early = json!({"at": "2026-03-02T10:00:00Z", "result": "diagnosed"});
    let refused = company.act(&visit(3), "leave", TECHNICIAN, early).await.expect(422);
    assert_eq!(refused.pointers(), ["/appliance_state", "/at"]);
    let leave = json!({"result": "diagnosed", "appliance_state": "down"});
    let left = company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200).body;
    assert_eq!(left["left_at"], "2026-03-02T10:30:00.000000Z");
    assert_eq!(left["allowed_actions"], json!([]));
    let state = sqlx::query_scalar!(
        "SELECT state FROM appliance WHERE id = $1",
        company::uuid(&company::appliance())
    );
    assert_eq!(state.fetch_one(&company.pool).await.unwrap(), "down");
    book(&company, 4).await.expect(201);
    let changed =
        json!({"people": [company::person(OTHER_TECHNICIAN)], "planned_at": "2026-03-03T08:00:00Z"});
    company.on_current("PATCH", &visit(4), &visit(4), TECHNICIAN, changed.clone()).await.expect(403);
    company.on_current("PATCH", &visit(4), &visit(4), DISPATCHER, changed).await.expect(200);
    company.get(&order(), OTHER_TECHNICIAN).await.expect(200);
    company.act(&visit(4), "call_off", DISPATCHER, json!({"why": "it works"})).await.expect(200);
    let visits = company.get(&format!("{}/visits", order()), TECHNICIAN).await.expect(200).body;
    assert_eq!(visits["items"].as_array().unwrap().len(), 2);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_technician_confirms_the_machine_and_nothing_else(pool: PgPool) {
    let company = Company::over(pool).await;
    let mut unknown = call();
    unknown["orders"] = json!([{"id": id(2), "symptoms": ["does_not_clean"]}]);
    company.post("/v1/calls", DISPATCHER, unknown).await.expect(201);
    book(&company, 3).await.expect(201);
    let urgency = json!({"urgency": "danger"});
    company.on_current("PATCH", &order(), &order(), TECHNICIAN, urgency.clone()).await.expect(403);
    company.on_current("PATCH", &order(), &order(), DISPATCHER, urgency).await.expect(200);
    let elsewhere = json!({"appliance_id": company::appliance_elsewhere()});
    company.on_current("PATCH", &order(), &order(), TECHNICIAN, elsewhere).await.expect(422);
    let confirm = json!({"appliance_id": company::appliance()});
    let confirmed = company.on_current("PATCH", &order(), &order(), TECHNICIAN, confirm).await.expect(200);
    assert_eq!(confirmed.body["appliance_id"], company::appliance());
    let empty = json!({"appliance_id": null});
    company.on_current("PATCH", &order(), &order(), TECHNICIAN, empty).await.expect(422);
    let filtered = format!("/v1/work-orders?appliance_id={}&open=true&state=received", company::appliance());
    let list = company.get(&filtered, TECHNICIAN).await.expect(200).body;
    assert_eq!(list["items"].as_array().unwrap().len(), 1);
    assert_eq!(company.get(&filtered, OTHER_TECHNICIAN).await.expect(200).body["items"], json!([]));
    company.get("/v1/work-orders?colour=red", DISPATCHER).await.expect(400);
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_ended_order_is_followed_and_never_reopened(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    let follower = json!({
        "id": id(5), "site_id": company::site(), "appliance_id": company::appliance(), "kind": "corrective",
        "urgency": "degraded", "follows_id": id(2),
    });
    let early = company.post("/v1/work-orders", DISPATCHER, follower.clone()).await.expect(422);
    assert_eq!(early.pointers(), ["/follows_id"]);
    let wait = json!({"id": id(6), "reason": "customers_wish", "pauses_clock": true});
    company.post(&format!("{}/waiting", order()), DISPATCHER, wait).await.expect(201);
    let twice = json!({"id": id(7), "reason": "customers_wish", "pauses_clock": true});
    company.post(&format!("{}/waiting", order()), DISPATCHER, twice).await.expect(409);
    let ours = json!({"id": id(8), "reason": "part", "pauses_clock": true});
    let refused = company.post(&format!("{}/waiting", order()), DISPATCHER, ours).await.expect(422);
    assert_eq!(refused.pointers(), ["/pauses_clock"]);
    let wrong = company.act(&order(), "close", DISPATCHER, json!({"outcome": "repaired"})).await.expect(409);
    assert!(wrong.missing().starts_with("a state that repaired may end: proven"), "{}", wrong.missing());
    company.act(&order(), "cancel", DISPATCHER, json!({"why": "called twice"})).await.expect(200);
    let waiting = company.get(&format!("{}/waiting", order()), DISPATCHER).await.expect(200).body;
    assert_eq!(waiting["items"][0]["to_at"], "2026-03-02T08:00:00.000000Z");
    let over = company.act(&order(), "assess", DISPATCHER, json!({})).await.expect(409);
    assert!(over.missing().contains("follows_id"));
    company
        .on_current("PATCH", &order(), &order(), DISPATCHER, json!({"urgency": "danger"}))
        .await
        .expect(409);
    let opened = company.post("/v1/work-orders", DISPATCHER, follower.clone()).await.expect(201);
    assert_eq!(opened.body["follows_id"], id(2));
    company.post("/v1/work-orders", DISPATCHER, follower).await.expect(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn nothing_is_repaired_without_work(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let body = json!({"restored_at": "2026-03-02T10:05:00Z"});
    let refused = company.act(&order(), "report_repaired", TECHNICIAN, body).await.expect(409);
    assert!(refused.missing().contains("an action that changed the machine"), "{}", refused.missing());
    let unsaid = company.act(&order(), "report_repaired", TECHNICIAN, json!({})).await.expect(422);
    assert_eq!(unsaid.pointers(), ["/restored_at"]);
    let open =
        company.act(&order(), "close", TECHNICIAN, json!({"outcome": "no_fault_found"})).await.expect(409);
    assert!(open.missing().contains("visit"), "{}", open.missing());
}
