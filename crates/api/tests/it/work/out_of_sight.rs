//! Who loses sight of a thing is told so in his change feed, and nobody else is.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{book, call, on_site, order, visit};
use crate::company::{self, Company, DISPATCHER, OTHER_TECHNICIAN, TECHNICIAN, id};

/// Of all that the document reads by an id of its own: what he sees, among what there is.
async fn seen(company: &Company, token: &str) -> BTreeSet<(String, String)> {
    let document = company.get("/openapi.json", token).await.expect(200).body;
    let paths = document["paths"].as_object().unwrap();
    let things = [
        company::customer(),
        company::site(),
        company::other_site(),
        company::appliance(),
        company::second_appliance(),
        company::appliance_elsewhere(),
        company::contact(),
        id(1),
        id(2),
        id(3),
        id(4),
    ];
    let mut seen = BTreeSet::new();
    for noun in paths.keys().filter_map(|path| path.strip_prefix("/v1/")?.strip_suffix("/{id}")) {
        for thing in &things {
            if company.get(&format!("/v1/{noun}/{thing}"), token).await.status == 200 {
                seen.insert((noun.to_owned(), thing.clone()));
            }
        }
    }
    seen
}

async fn beginning(company: &Company, token: &str) -> String {
    let feed = company.get("/v1/changes", token).await.expect(200).body;
    feed["cursor"].as_str().unwrap().to_owned()
}

/// What this person is told is gone, once the feed has come to what the office was told last.
async fn gone(company: &Company, token: &str, since: &str, office: &str) -> BTreeSet<(String, String)> {
    static MARKS: AtomicU32 = AtomicU32::new(1000);
    let mark = json!({"id": id(MARKS.fetch_add(1, Ordering::Relaxed)), "name": "A mark"});
    company.post("/v1/customers", DISPATCHER, mark).await.expect(201);
    let mut to_office = Vec::new();
    for _ in 0..3000 {
        let page = company.get(&format!("/v1/changes?cursor={office}"), DISPATCHER).await.expect(200).body;
        to_office = page["items"].as_array().unwrap().clone();
        if to_office.iter().any(|item| item["kind"] == "customer.created") {
            break;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    assert!(to_office.iter().any(|item| item["kind"] == "customer.created"), "the feed never came");
    assert!(to_office.iter().all(|item| !is_tombstone(item)), "the office sees all: {to_office:?}");
    let page = company.get(&format!("/v1/changes?cursor={since}"), token).await.expect(200).body;
    let items = page["items"].as_array().unwrap().clone();
    let told: Vec<_> = items.iter().filter(|item| is_tombstone(item)).map(thing).collect();
    let once: BTreeSet<_> = told.iter().cloned().collect();
    assert_eq!(told.len(), once.len(), "told once: {told:?}");
    once
}

fn is_tombstone(item: &Value) -> bool {
    let is = item["kind"].as_str().unwrap().ends_with(".out_of_sight");
    assert!(!is || item["gone"] == json!(true), "{item}");
    is
}

/// The thing as the paths name it.
fn thing(item: &Value) -> (String, String) {
    let noun = item["kind"].as_str().unwrap().split('.').next().unwrap().replace('_', "-");
    (format!("{noun}s"), item["subject_id"].as_str().unwrap().to_owned())
}

/// Does something to who sees what, and holds what was lost against what was told.
async fn hold_losses(company: &Company, change: impl AsyncFnOnce()) -> BTreeSet<(String, String)> {
    let (since, office) = (beginning(company, TECHNICIAN).await, beginning(company, DISPATCHER).await);
    let others = beginning(company, OTHER_TECHNICIAN).await;
    let before = seen(company, TECHNICIAN).await;
    assert!(before.iter().any(|(noun, _)| noun == "customers"), "{before:?}");
    change().await;
    let after = seen(company, TECHNICIAN).await;
    // A visit is told of with its order.
    let lost: BTreeSet<_> = before.difference(&after).filter(|(noun, _)| noun != "visits").cloned().collect();
    assert_eq!(gone(company, TECHNICIAN, &since, &office).await, lost);
    let office = beginning(company, DISPATCHER).await;
    assert!(gone(company, OTHER_TECHNICIAN, &others, &office).await.is_empty(), "nobody else is told");
    lost
}

#[sqlx::test(migrations = "../../migrations")]
async fn who_is_sent_no_more_is_told_what_is_gone(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    company.at("2026-03-02T11:00:00Z");
    let path = visit(3);
    let people = |people: Value| company.on_current("PATCH", &path, &path, DISPATCHER, people);
    let both = json!({"people": [company::person(TECHNICIAN), company::person(OTHER_TECHNICIAN)]});
    people(both.clone()).await.expect(200);
    let instead = json!({"people": [company::person(OTHER_TECHNICIAN)]});
    let lost = hold_losses(&company, async || {
        people(instead.clone()).await.expect(200);
    })
    .await;
    for thing in [
        ("work-orders", id(2)),
        ("calls", id(1)),
        ("sites", company::site()),
        ("appliances", company::second_appliance()),
        ("customers", company::customer()),
    ] {
        assert!(lost.contains(&(thing.0.to_owned(), thing.1.clone())), "{thing:?} of {lost:?}");
    }
    // Who still sees it for another visit's sake loses nothing with one of them.
    people(both).await.expect(200);
    let leave = json!({"result": "diagnosed", "appliance_state": "degraded"});
    company.act(&path, "leave", TECHNICIAN, leave).await.expect(200);
    let second =
        json!({"id": id(4), "planned_at": "2026-03-03T10:00:00Z", "people": [company::person(TECHNICIAN)]});
    company.post(&format!("{}/visits", order()), DISPATCHER, second).await.expect(201);
    let lost = hold_losses(&company, async || {
        company.on_current("PATCH", &visit(4), &visit(4), DISPATCHER, instead.clone()).await.expect(200);
    })
    .await;
    assert!(lost.is_empty(), "{lost:?}");
    assert_eq!(company.broken().await, [], "tombstones need no mark in the audit");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_visit_that_is_called_off_takes_its_order_out_of_sight(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    company.act(&order(), "assess", DISPATCHER, json!({})).await.expect(200);
    book(&company, 3).await.expect(201);
    let lost = hold_losses(&company, async || {
        company.act(&visit(3), "call_off", DISPATCHER, json!({"why": "once is enough"})).await.expect(200);
    })
    .await;
    assert!(lost.contains(&("work-orders".to_owned(), id(2))), "{lost:?}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_machine_that_is_moved_away_is_gone_for_who_is_sent_to_its_old_kitchen(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let path = format!("/v1/appliances/{}", company::second_appliance());
    let lost = hold_losses(&company, async || {
        let moved = json!({"site_id": company::other_site()});
        company.on_current("PATCH", &path, &path, DISPATCHER, moved).await.expect(200);
    })
    .await;
    assert_eq!(lost, BTreeSet::from([("appliances".to_owned(), company::second_appliance())]));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_cursor_of_who_saw_more_or_less_starts_over(pool: PgPool) {
    let company = Company::over(pool).await;
    let (technician, office) = (beginning(&company, TECHNICIAN).await, beginning(&company, DISPATCHER).await);
    for (token, cursor, starts_over) in [
        (TECHNICIAN, &technician, false),
        (DISPATCHER, &office, false),
        (TECHNICIAN, &office, true),
        (OTHER_TECHNICIAN, &technician, true),
        (DISPATCHER, &technician, true),
    ] {
        let page = company.get(&format!("/v1/changes?cursor={cursor}"), token).await.expect(200).body;
        assert_eq!(page["start_over"], json!(starts_over), "{token} {cursor}");
    }
}
