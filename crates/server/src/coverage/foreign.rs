//! Things belong together: each id in a body is tried with one of another order, machine, kitchen or customer, and with one
//! that nothing has. Derived from the document: an id field that is added without its row in the table fails here.

use axum::http::Method;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::provoke::{self, UNKNOWN_ID};
use super::service::{Asked, Service, Temper};
use super::shape::{leaves, set};
use super::walk::{self, Example};
use crate::demo::script::{id_of, name_ids};

/// What a reference must share with what the body is about.
#[derive(Debug, Clone, Copy)]
enum Shares {
    /// The thing of another, which is refused.
    With(&'static str, Of),
    /// The same, but what it names may come later than the body.
    WithWhatMayCome(&'static str, Of),
    /// Whatever there is may be named; what there is not is refused.
    Nothing,
    /// It is made with this id.
    Itself,
}

#[derive(Debug, Clone, Copy)]
enum Of {
    Order,
    Machine,
    Kitchen,
    Customer,
}

use Of::{Customer, Kitchen, Machine, Order};
use Shares::{Itself, Nothing, With, WithWhatMayCome};

/// Operation, place of the id in its body, what it shares.
const TABLE: &[(&str, &str, Shares)] = &[
    ("create_appliance", "/site_id", Nothing),
    ("update_appliance", "/site_id", Nothing),
    ("create_fitted_part", "/part_id", Nothing),
    ("create_call", "/site_id", Nothing),
    ("create_call", "/contact_id", With("contact_hospital", Customer)),
    ("create_call", "/orders/0/id", Itself),
    ("create_call", "/orders/0/appliance_id", With("hospital_combi", Kitchen)),
    ("create_call", "/orders/0/follows_id", With("foreign_order", Kitchen)),
    ("create_contact", "/customer_id", Nothing),
    ("create_contact", "/site_id", Nothing),
    ("create_known_good_removal", "/test_run_id", Nothing),
    ("create_site", "/customer_id", Nothing),
    ("create_site", "/branch_id", Nothing),
    ("update_site", "/branch_id", Nothing),
    ("create_test_runs", "/runs/0/id", Itself),
    ("create_test_runs", "/runs/0/appliance_id", With("hospital_combi", Machine)),
    ("create_test_runs", "/runs/0/work_order_id", With("foreign_order", Machine)),
    ("create_test_runs", "/runs/0/visit_id", With("foreign_visit", Order)),
    ("create_test_runs", "/runs/0/interlock_defeat_id", With("foreign_defeat", Order)),
    ("create_test_runs", "/runs/0/supersedes_id", WithWhatMayCome("foreign_run", Machine)),
    ("create_visit", "/people/0", Nothing),
    ("update_visit", "/people/0", Nothing),
    ("create_work_order", "/site_id", Nothing),
    ("create_work_order", "/appliance_id", With("hospital_combi", Kitchen)),
    ("create_work_order", "/call_id", With("foreign_call", Kitchen)),
    ("create_work_order", "/follows_id", With("foreign_order", Kitchen)),
    ("update_work_order", "/appliance_id", With("hospital_combi", Kitchen)),
    ("create_machine_correction", "/appliance_id", With("hospital_combi", Kitchen)),
    ("act_on_work_order", "/signed_off_by", With("contact_hospital", Customer)),
    ("create_action_taken", "/part_line_id", With("foreign_line", Order)),
    ("create_approval", "/quote_id", With("example_quote", Order)),
    ("create_approval", "/contact_id", With("contact_bakery", Customer)),
    ("create_interlock_defeat", "/second_person_id", Nothing),
    ("create_interlock_defeat", "/second_contact_id", With("contact_hospital", Customer)),
    ("create_finding", "/supersedes_id", With("foreign_finding", Order)),
    ("create_finding", "/test_run_ids/0", With("foreign_run", Machine)),
    ("create_part_line", "/part_id", Nothing),
    ("create_part_line", "/finding_id", With("foreign_finding", Order)),
    ("create_note", "/settles", With("foreign_note", Order)),
    ("create_quote", "/part_line_ids/0", With("foreign_line", Order)),
];

#[sqlx::test(migrations = "../../migrations")]
async fn what_a_body_names_belongs_to_what_it_is_about(pool: PgPool) {
    let mut service = Service::over(pool).await;
    let examples = walk::examples();
    for example in &examples {
        provoke::success(&mut service, example).await;
        if example.operation == "create_knowledge_version" {
            service.application.learn().await;
        }
    }
    service.faults.clear();
    make_the_others(&service).await;

    let mut faults = Vec::new();
    let mut tried = 0;
    for example in examples.iter().filter(|example| example.body.is_some()) {
        let (method, _, operation) = service.operation(&example.operation);
        for leaf in
            leaves(&service.document, &operation).into_iter().filter(|leaf| leaf.schema["format"] == "uuid")
        {
            if leaf.pointer == "/id" {
                continue;
            }
            let row = TABLE
                .iter()
                .find(|row| (row.0, row.1) == (example.operation.as_str(), leaf.pointer.as_str()));
            let Some((_, pointer, shares)) = row else {
                faults.push(format!("{} {} has no row in the table", example.operation, leaf.pointer));
                continue;
            };
            let unknown = || Some(UNKNOWN_ID.to_owned());
            let of_another =
                |name: &str, of: Of| (Some(id_of(name).to_string()), format!("be of the same {of:?}"));
            let (unknown, (foreign, must)) = match *shares {
                Itself => continue,
                Nothing => (unknown(), (None, "be there".to_owned())),
                With(name, of) => (unknown(), of_another(name, of)),
                WithWhatMayCome(name, of) => (None, of_another(name, of)),
            };
            for id in unknown.into_iter().chain(foreign) {
                tried += 1;
                let example = with_id(example, &method, pointer, &id, tried);
                if let Some(fault) = refused(&service, &example, pointer, id == UNKNOWN_ID).await {
                    faults.push(format!("{fault}; it must {must}"));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{} of {tried} tries:\n{}", faults.len(), faults.join("\n"));
    assert!(tried > TABLE.len(), "{tried} tries");
    eprintln!(
        "beyond\tforeign and unknown ids in every id field of every body\t{tried}\tall refused at their place"
    );
}

/// The example about something new of its own, with this id in this place.
fn with_id(example: &Example, method: &Method, pointer: &str, id: &str, tried: usize) -> Example {
    let mut example = example.clone();
    // A change names nothing besides.
    let mut body = if method == Method::PATCH { json!({}) } else { example.body.clone().unwrap() };
    for own in ["/id", "/runs/0/id", "/orders/0/id"] {
        if body.pointer(own).is_some() {
            set(&mut body, own, json!(id_of(&format!("foreign_try_{tried}{own}"))));
        }
    }
    if example.operation == "act_on_work_order" {
        example.path = [("id", json!(id_of("example_planned"))), ("action", json!("close"))]
            .map(|(k, v)| (k.to_owned(), v))
            .into_iter()
            .collect();
        body = json!({"outcome": "declined"});
    }
    if pointer == "/site_id" && example.operation == "create_contact" || pointer == "/customer_id" {
        body.as_object_mut().unwrap().remove("site_id");
    }
    if let Some((list, _)) = pointer.rsplit_once("/0").filter(|(_, rest)| rest.is_empty()) {
        set(&mut body, list, json!([id]));
    } else {
        assert!(
            set(&mut body, pointer, json!(id)),
            "{pointer} has no place in the example of {}",
            example.operation
        );
    }
    example.body = Some(body);
    example
}

/// What is wrong if the request is not refused for this very place.
async fn refused(service: &Service, example: &Example, pointer: &str, is_unknown: bool) -> Option<String> {
    let asked = provoke::good(service, example).await.without("idempotency-key");
    let answered = service.send(Temper::Usual, &asked).await;
    let of_item = pointer.strip_prefix("/runs/0");
    let problem = if of_item.is_some() { &answered.body["items"][0]["problem"] } else { &answered.body };
    let pointer = of_item.unwrap_or(pointer);
    // Of an order and a machine that do not belong together either may be the wrong one.
    let names_it = problem["errors"].as_array().into_iter().flatten().any(|fault| {
        fault["pointer"] == pointer || (pointer == "/work_order_id" && fault["pointer"] == "/appliance_id")
    });
    // Of what there is not, a whole request may speak.
    let is_refused = names_it || (is_unknown && [404, 409, 422].contains(&answered.status));
    (!is_refused).then(|| format!("{} {pointer}: {} {}", example.operation, answered.status, answered.body))
}

/// An order of another customer's machine, with one of each that can be named.
async fn make_the_others(service: &Service) {
    let mut script = json!([
        ["create_call", {}, {"id": "@foreign_call", "site_id": "@hospital_kitchen", "words": "Ours too.", "urgency": "degraded",
            "stop_use": false, "received_at": "2026-04-15T06:30:00Z",
            "orders": [{"id": "@foreign_order", "appliance_id": "@hospital_combi", "symptoms": ["does_not_clean"]}]}],
        ["create_visit", {"id": "@foreign_order"}, {"id": "@foreign_visit", "planned_at": "2026-04-19T08:00:00Z",
            "people": ["@technician"]}],
        ["create_interlock_defeat", {"id": "@foreign_order"}, {"id": "@foreign_defeat", "second_person": "Ward cook (demo)",
            "opened_at": "2026-04-15T08:40:00Z", "expires_at": "2026-04-15T08:50:00Z"}],
        ["create_test_runs", {}, {"runs": [{"id": "@foreign_run", "appliance_id": "@hospital_combi",
            "work_order_id": "@foreign_order", "procedure": {"key": "fill_time", "version": 1}, "phase": "before_repair",
            "device_id": "demo-phone-1", "sequence": 77, "taken_at": "2026-04-15T08:46:00Z",
            "conditions": {"confirmed": ["sump_empty"]},
            "readings": [{"step": "fill_time", "value": {"value": 12.0, "unit": "s"}}]}]}],
        ["create_finding", {"id": "@foreign_order"}, {"id": "@foreign_finding", "position": "fill_valve", "finding": "degraded",
            "failure_mode": "slow", "evidence": "timed", "test_run_ids": ["@foreign_run"], "found_at": "2026-04-15T08:50:00Z"}],
        ["create_part_line", {"id": "@foreign_order"}, {"id": "@foreign_line", "part_id": "@part_fill_valve",
            "position": "fill_valve", "finding_id": "@foreign_finding", "quantity": 1, "payer": "customer"}],
        ["create_note", {"id": "@foreign_order"}, {"id": "@foreign_note", "words": "Ask again.",
            "ring_back_at": "2026-04-24T08:00:00Z"}],
    ]);
    name_ids(&mut script);
    for step in script.as_array().unwrap() {
        let example = Example {
            operation: step[0].as_str().unwrap().to_owned(),
            path: step[1].as_object().unwrap().clone(),
            query: serde_json::Map::new(),
            body: Some(step[2].clone()),
            if_match: None,
        };
        let asked: Asked = provoke::good(service, &example).await.without("idempotency-key");
        let answered = service.send(Temper::Usual, &asked).await;
        assert!(answered.status < 300, "{step}: {}", answered.body);
        let statuses: Vec<&Value> =
            answered.body["items"].as_array().into_iter().flatten().map(|item| &item["status"]).collect();
        assert!(statuses.iter().all(|status| **status == "created"), "{step}: {}", answered.body);
    }
}
