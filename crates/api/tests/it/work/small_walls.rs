//! Small walls that people ran into, each with its door.

use serde_json::json;
use sqlx::PgPool;

use super::{book, call, on_site, order, visit};
use crate::company::{self, Company, DISPATCHER, TECHNICIAN, id, uuid};

#[sqlx::test(migrations = "../../migrations")]
async fn nobody_is_booked_at_two_places_without_a_word(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    book(&company, 3).await.expect(201);
    let elsewhere = json!({
        "id": id(11), "site_id": company::other_site(), "words": "Here too.", "urgency": "degraded", "stop_use": false,
        "orders": [{"id": id(12), "appliance_id": company::appliance_elsewhere(), "symptoms": ["noisy"]}],
    });
    company.post("/v1/calls", DISPATCHER, elsewhere).await.expect(201);
    let visits = format!("/v1/work-orders/{}/visits", id(12));
    let at = |hour: &str| json!({"id": id(13), "planned_at": format!("2026-03-02T{hour}:00Z"), "people": [company::person(TECHNICIAN)]});
    let refused = company.post(&visits, DISPATCHER, at("11:30")).await.expect(422);
    assert_eq!(refused.pointers(), ["/people/0"]);
    let why = refused.body["detail"].as_str().unwrap();
    assert!(why.contains("booked for order") && why.contains("overlap_reason"), "{why}");
    let mut with_a_word = at("11:30");
    with_a_word["overlap_reason"] = json!("It is next door.");
    company.post(&visits, DISPATCHER, with_a_word).await.expect(201);
    // Moving one visit onto another is no other thing.
    company.act(&visit(13), "call_off", DISPATCHER, json!({"why": "later"})).await.expect(200);
    let later =
        json!({"id": id(14), "planned_at": "2026-03-02T15:00:00Z", "people": [company::person(TECHNICIAN)]});
    company.post(&visits, DISPATCHER, later).await.expect(201);
    let back = json!({"planned_at": "2026-03-02T10:30:00Z"});
    company.on_current("PATCH", &visit(14), &visit(14), DISPATCHER, back.clone()).await.expect(422);
    let mut back = back;
    back["overlap_reason"] = json!("It is next door.");
    company.on_current("PATCH", &visit(14), &visit(14), DISPATCHER, back).await.expect(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_open_order_is_a_possible_duplicate_however_old(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    company.at("2026-09-02T08:00:00Z");
    let again = json!({
        "id": id(11), "site_id": company::site(), "words": "Still.", "urgency": "degraded", "stop_use": false,
        "orders": [{"id": id(12), "appliance_id": company::appliance(), "symptoms": ["does_not_clean"]}],
    });
    let intake = company.post("/v1/calls", DISPATCHER, again).await.expect(201).body;
    assert_eq!(intake["is_repeat"], false);
    assert_eq!(intake["orders"][0]["possible_duplicates"], json!([id(2)]));
    assert_eq!(intake["orders"][0]["repeats"], json!([]));
}

#[sqlx::test(migrations = "../../migrations")]
async fn no_fault_found_ends_a_visit_without_a_repair(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    company.act(&order(), "assess", DISPATCHER, json!({})).await.expect(200);
    book(&company, 3).await.expect(201);
    company.act(&order(), "plan", DISPATCHER, json!({})).await.expect(200);
    let close = json!({"outcome": "no_fault_found"});
    let early = company.act(&order(), "close", DISPATCHER, close.clone()).await.expect(409);
    assert!(early.missing().contains("arrival on site"), "{}", early.missing());
    company.at("2026-03-02T10:30:00Z");
    company.act(&visit(3), "arrive", TECHNICIAN, json!({})).await.expect(200);
    let leave = json!({"result": "diagnosed", "appliance_state": "up"});
    company.act(&visit(3), "leave", TECHNICIAN, leave).await.expect(200);
    let closed = company.act(&order(), "close", DISPATCHER, close).await.expect(200).body;
    assert_eq!(closed["outcome"], "no_fault_found");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_part_goes_where_it_fits_or_a_manager_says_why(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    sqlx::query!(
        "INSERT INTO part_fit (part_id, model_key, position)
         SELECT $1, model_key, 'fill_valve' FROM appliance WHERE id = $2",
        uuid(&company::part()),
        uuid(&company::appliance())
    )
    .execute(&company.pool)
    .await
    .unwrap();
    let line = |n: u32, position: &str| json!({"id": id(n), "part_id": company::part(), "position": position, "quantity": 1, "payer": "contract"});
    let lines = format!("{}/part-lines", order());
    let refused = company.post(&lines, TECHNICIAN, line(40, "drain_pump")).await.expect(422);
    assert_eq!(refused.pointers(), ["/part_id"]);
    let why = refused.body["detail"].as_str().unwrap();
    assert!(
        why.contains("V-1 (Fill valve)") && why.contains("fits the fill_valve"),
        "as people know it: {why}"
    );
    company.post(&lines, TECHNICIAN, line(40, "fill_valve")).await.expect(201);
    let part_line = format!("/v1/part-lines/{}", id(40));
    let elsewhere = json!({"position": "drain_pump"});
    company.on_current("PATCH", &part_line, &part_line, TECHNICIAN, elsewhere).await.expect(422);
    let mut word = line(41, "drain_pump");
    word["fit_override"] = json!("The same thread; tried in the workshop.");
    company.post(&lines, DISPATCHER, word.clone()).await.expect(403);
    let kept = company.post_as_manager(&lines, word).await.expect(201).body;
    assert_eq!(kept["fit_override"], "The same thread; tried in the workshop.");
}

#[sqlx::test(migrations = "../../migrations")]
async fn promises_that_slip_are_kept(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let line = json!({"id": id(40), "part_id": company::part(), "quantity": 1, "payer": "contract"});
    company.post(&format!("{}/part-lines", order()), TECHNICIAN, line).await.expect(201);
    let line = format!("/v1/part-lines/{}", id(40));
    for action in ["approve", "order"] {
        company.act(&line, action, DISPATCHER, json!({})).await.expect(200);
    }
    for (at, day) in [("2026-03-02T11:00:00Z", "2026-03-09"), ("2026-03-09T11:00:00Z", "2026-03-20")] {
        company.at(at);
        company.act(&line, "promise", DISPATCHER, json!({"promised_on": day})).await.expect(200);
    }
    let slipped = company.get(&line, DISPATCHER).await.expect(200).body;
    assert_eq!(slipped["promised_on"], "2026-03-20");
    let days: Vec<_> = slipped["promises"]
        .as_array()
        .unwrap()
        .iter()
        .map(|promise| promise["promised_on"].clone())
        .collect();
    assert_eq!(days, ["2026-03-09", "2026-03-20"]);
    assert_eq!(slipped["slipped_days"], 11);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_customer_who_spoke_before_the_quote_allowed_a_sum(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let line = json!({"id": id(40), "part_id": company::part(), "quantity": 1, "payer": "customer"});
    company.post(&format!("{}/part-lines", order()), TECHNICIAN, line).await.expect(201);
    company.at("2026-03-02T12:00:00Z");
    let quote = json!({"id": id(41), "part_line_ids": [id(40)]});
    company.post(&format!("{}/quotes", order()), DISPATCHER, quote).await.expect(201);
    let approvals = format!("{}/approvals", order());
    let spoken = |up_to: Option<&str>| {
        let mut body = json!({"id": id(42), "quote_id": id(41), "decision": "approved",
            "decided_at": "2026-03-02T11:00:00Z", "contact_id": company::contact()});
        if let Some(amount) = up_to {
            body["up_to"] = json!({"amount": amount, "currency": "EUR"});
        }
        body
    };
    assert_eq!(
        company.post(&approvals, DISPATCHER, spoken(None)).await.expect(422).pointers(),
        ["/decided_at"]
    );
    assert_eq!(
        company.post(&approvals, DISPATCHER, spoken(Some("100"))).await.expect(422).pointers(),
        ["/up_to"]
    );
    let kept = company.post(&approvals, DISPATCHER, spoken(Some("150"))).await.expect(201).body;
    assert_eq!(kept["up_to"], json!({"amount": "150.00", "currency": "EUR"}));
    let line = company.get(&format!("/v1/part-lines/{}", id(40)), DISPATCHER).await.expect(200).body;
    assert_eq!(line["state"], "approved");
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_was_answered_by_ringing_back_counts(pool: PgPool) {
    let company = Company::over(pool).await;
    let mut taken = call();
    taken["answers"] = json!([{"question": "water_heard", "answer": "yes"}]);
    company.post("/v1/calls", DISPATCHER, taken).await.expect(201);
    let path = format!("/v1/calls/{}", id(1));
    let answer =
        |n: u32, question: &str, answer: &str| json!({"id": id(n), "question": question, "answer": answer});
    company.post(&format!("{path}/answers"), TECHNICIAN, answer(20, "steams", "no")).await.expect(404);
    company.post(&format!("{path}/answers"), DISPATCHER, answer(20, "steams", "no")).await.expect(201);
    company.post(&format!("{path}/answers"), DISPATCHER, answer(20, "steams", "no")).await.expect(200);
    company.post(&format!("{path}/answers"), DISPATCHER, answer(20, "steams", "yes")).await.expect(409);
    company.at("2026-03-02T09:00:00Z");
    company.post(&format!("{path}/answers"), DISPATCHER, answer(21, "water_heard", "no")).await.expect(201);
    let answers = company.get(&path, DISPATCHER).await.expect(200).body["call"]["answers"].clone();
    let said: Vec<_> = answers
        .as_array()
        .unwrap()
        .iter()
        .map(|said| (said["question"].as_str().unwrap(), said["answer"].as_str().unwrap()))
        .collect();
    assert_eq!(said.len(), 2, "asked again, the last answer counts: {said:?}");
    assert!(said.contains(&("water_heard", "no")) && said.contains(&("steams", "no")), "{said:?}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn volumes_in_customary_units_and_degrees_of_hardness_are_taken(pool: PgPool) {
    let company = Company::over(pool).await;
    let water = |n: u32, scale: &str| {
        json!({"id": id(n), "taken_at": "2026-03-02T07:00:00Z", "treatment": "none", "sample_point": "before_treatment",
            "hardness": {"value": 14.0, "unit": "1", "hardness_scale": scale}})
    };
    for (n, scale) in [(20, "german_degree"), (21, "french_degree"), (22, "english_degree")] {
        company
            .post(&format!("/v1/sites/{}/water", company::site()), DISPATCHER, water(n, scale))
            .await
            .expect(201);
    }
    on_site(&company).await;
    for (n, unit, value) in [(30, "[foz_us]", 240.0), (31, "[qt_us]", 7.5)] {
        let run = json!({
            "id": id(n), "appliance_id": company::appliance(), "work_order_id": id(2),
            "procedure": {"key": "start_up_catch", "version": 1}, "phase": "before_repair", "device_id": "phone",
            "sequence": n, "taken_at": "2026-03-02T10:04:00Z",
            "readings": [{"step": "bucket_volume", "value": {"value": 10.0, "unit": "L"}},
                {"step": "caught", "value": {"value": value, "unit": unit}}],
        });
        let body = company.post("/v1/test-runs", TECHNICIAN, json!({"runs": [run]})).await.expect(200).body;
        assert_eq!(body["items"][0]["status"], "created", "{unit}: {body:#}");
    }
}
