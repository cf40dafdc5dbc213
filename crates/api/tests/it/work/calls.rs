use serde_json::json;
use sqlx::PgPool;

use super::call;
use crate::company::{self, Company, DISPATCHER, TECHNICIAN, id};

#[sqlx::test(migrations = "../../migrations")]
async fn a_call_opens_its_orders_and_is_answered_the_same_when_it_comes_again(pool: PgPool) {
    let company = Company::over(pool).await;
    let first = company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    assert_eq!(first.headers["location"], format!("/v1/calls/{}", id(1)));
    assert_eq!(first.body["orders"][0]["order"]["state"], "received");
    assert_eq!(first.body["orders"][0]["order"]["symptoms"], json!(["does_not_clean"]));
    assert_eq!(first.body["is_repeat"], false);
    assert_eq!(first.body["cautions"], json!([]));
    let again = company.post("/v1/calls", DISPATCHER, call()).await.expect(200);
    assert_eq!(again.body, first.body);
    let other = json!({"words": "Something else."});
    let mut changed = call();
    changed.as_object_mut().unwrap().extend(other.as_object().unwrap().clone());
    company.post("/v1/calls", DISPATCHER, changed).await.expect(409);
    let mut another = call();
    another["id"] = json!(id(9));
    let taken = company.post("/v1/calls", DISPATCHER, another).await.expect(409);
    assert_eq!(taken.body["type"], "/problems/id-taken", "the order's id belongs to the first call");
    let list = company.get(&format!("/v1/calls?site_id={}", company::site()), DISPATCHER).await.expect(200);
    assert_eq!(list.body["items"].as_array().unwrap().len(), 1, "nothing of the refused call stayed");
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_came_before_is_shown_and_repeats_are_flagged(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    let path = format!("/v1/work-orders/{}", id(2));
    company.act(&path, "close", DISPATCHER, json!({"outcome": "solved_by_phone"})).await.expect(200);
    company.at("2026-03-20T08:00:00Z");
    let second = json!({
        "id": id(11), "site_id": company::site(), "words": "Again.", "urgency": "key_unit_down", "stop_use": false,
        "orders": [
            {"id": id(12), "appliance_id": company::appliance(), "symptoms": ["does_not_clean", "noisy"],
                "follows_id": id(2)},
            {"id": id(13), "appliance_id": company::second_appliance(), "symptoms": ["smell"]},
            {"id": id(14), "symptoms": ["other"]},
        ],
    });
    let intake = company.post("/v1/calls", DISPATCHER, second).await.expect(201).body;
    assert_eq!(intake["is_repeat"], true);
    assert_eq!(intake["orders"][0]["earlier"][0]["id"], id(2));
    let repeat = &intake["orders"][0]["repeats"][0];
    assert_eq!(
        *repeat,
        json!({"work_order_id": id(2), "days_since": 18, "same_symptoms": ["does_not_clean"]})
    );
    assert_eq!(intake["orders"][1]["repeats"], json!([]));
    assert_eq!(intake["orders"][2]["order"]["appliance_id"], json!(null));
    company.at("2026-03-21T08:00:00Z");
    let third = json!({
        "id": id(21), "site_id": company::site(), "words": "And again.", "urgency": "degraded", "stop_use": false,
        "orders": [{"id": id(22), "symptoms": ["other"]}],
    });
    let intake = company.post("/v1/calls", DISPATCHER, third).await.expect(201).body;
    let open: Vec<_> =
        intake["open_at_site"].as_array().unwrap().iter().map(|order| order["id"].clone()).collect();
    assert_eq!(open.len(), 3, "{open:?}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_danger_is_decided_and_stop_use_makes_the_machine_unsafe(pool: PgPool) {
    let company = Company::over(pool).await;
    let mut body = call();
    body["dangers"] = json!(["caustic", "electric"]);
    let refused = company.post("/v1/calls", DISPATCHER, body.clone()).await.expect(422);
    assert_eq!(refused.pointers(), ["/stop_use"]);
    body["stop_use"] = json!(true);
    let intake = company.post("/v1/calls", DISPATCHER, body).await.expect(201).body;
    assert!(intake["cautions"].as_array().unwrap().len() > 3, "{intake:#}");
    let state = sqlx::query_scalar!(
        "SELECT state FROM appliance WHERE id = $1",
        company::uuid(&company::appliance())
    )
    .fetch_one(&company.pool)
    .await
    .unwrap();
    assert_eq!(state, "unsafe_do_not_use");
    // An appliance that is confirmed later becomes unsafe then.
    let mut unknown = call();
    unknown["id"] = json!(id(31));
    unknown["dangers"] = json!(["gas"]);
    unknown["stop_use"] = json!(true);
    unknown["orders"] = json!([{"id": id(32), "symptoms": ["smell"]}]);
    company.post("/v1/calls", DISPATCHER, unknown).await.expect(201);
    let path = format!("/v1/work-orders/{}", id(32));
    let patch = json!({"appliance_id": company::second_appliance()});
    company.on_current("PATCH", &path, &path, DISPATCHER, patch).await.expect(200);
    let state = sqlx::query_scalar!(
        "SELECT state FROM appliance WHERE id = $1",
        company::uuid(&company::second_appliance())
    )
    .fetch_one(&company.pool)
    .await
    .unwrap();
    assert_eq!(state, "unsafe_do_not_use");
    let mut kept = call();
    kept["id"] = json!(id(41));
    kept["dangers"] = json!(["electric"]);
    kept["continued_use_reason"] = json!("The breaker that tripped is the light's.");
    kept["orders"] = json!([{"id": id(42), "symptoms": ["trips_supply"]}]);
    company.post("/v1/calls", DISPATCHER, kept).await.expect(201);
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_fault_of_a_call_is_listed(pool: PgPool) {
    let company = Company::over(pool).await;
    let shape = json!({
        "id": "x", "site_id": company::site(), "words": "", "urgency": "soon", "stop_use": "no", "colour": 1,
        "orders": [{"id": id(2), "symptoms": []}],
    });
    let refused = company.post("/v1/calls", DISPATCHER, shape).await.expect(422);
    assert_eq!(
        refused.pointers(),
        ["", "/id", "/orders/0/symptoms", "/stop_use", "/urgency", "/words"],
        "{:#}",
        refused.body
    );
    let meaning = json!({
        "id": id(1), "site_id": company::site(), "contact_id": id(99), "words": "x", "urgency": "degraded",
        "stop_use": false, "continued_use_reason": "?", "received_at": "2026-03-03T08:00:00Z",
        "orders": [
            {"id": id(2), "appliance_id": company::appliance_elsewhere(), "symptoms": ["does_not_clean", "sings"]},
            {"id": id(2), "appliance_id": id(98), "symptoms": ["noisy"], "follows_id": id(97)},
        ],
    });
    let refused = company.post("/v1/calls", DISPATCHER, meaning).await.expect(422);
    assert_eq!(
        refused.pointers(),
        [
            "/contact_id",
            "/continued_use_reason",
            "/orders/0/appliance_id",
            "/orders/0/symptoms/1",
            "/orders/1/appliance_id",
            "/orders/1/follows_id",
            "/orders/1/id",
            "/received_at",
        ],
        "{:#}",
        refused.body
    );
}

#[sqlx::test(migrations = "../../migrations")]
async fn only_the_office_takes_calls_and_a_technician_sees_those_of_his_orders(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", TECHNICIAN, call()).await.expect(403);
    company.post("/v1/calls", "nobody", call()).await.expect(401);
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    let path = format!("/v1/calls/{}", id(1));
    company.get(&path, DISPATCHER).await.expect(200);
    company.get(&path, TECHNICIAN).await.expect(404);
    super::book(&company, 3).await.expect(201);
    company.get(&path, TECHNICIAN).await.expect(200);
}
