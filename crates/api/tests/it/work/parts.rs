//! The way of a part into the machine and out of it, and what the customer says to a quote.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{on_site, order};
use crate::company::{self, Company, DISPATCHER, TECHNICIAN, id};

fn line_path(n: u32) -> String {
    format!("/v1/part-lines/{}", id(n))
}

async fn note(company: &Company, n: u32, payer: &str) {
    let body = json!({"id": id(n), "part_id": company::part(), "position": "fill_valve", "quantity": 1, "payer": payer});
    company.post(&format!("{}/part-lines", order()), TECHNICIAN, body).await.expect(201);
}

async fn fitted(company: &Company) -> Value {
    let path = format!("/v1/appliances/{}/fitted-parts", company::appliance());
    company.get(&path, TECHNICIAN).await.expect(200).body["items"].clone()
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_fitted_part_that_goes_back_defective_is_no_longer_in_the_machine(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    note(&company, 0x41, "warranty").await;
    for action in ["approve", "set_aside", "fit"] {
        company.act(&line_path(0x41), action, TECHNICIAN, json!({})).await.expect(200);
    }
    let there = fitted(&company).await;
    assert_eq!((there.as_array().unwrap().len(), &there[0]["removed_at"]), (1, &Value::Null), "{there:#}");
    company.at("2026-03-02T11:00:00Z");
    company.act(&line_path(0x41), "return_defective", TECHNICIAN, json!({})).await.expect(200);
    let gone = fitted(&company).await;
    assert_eq!(gone[0]["removed_at"], "2026-03-02T11:00:00.000000Z", "{gone:#}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_part_that_was_taken_out_for_none_is_gone_whenever_it_is_told(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let path = format!("/v1/appliances/{}/fitted-parts", company::appliance());
    let part = |n: u32, position: &str, fitted_at: &str| json!({"id": id(n), "part_id": company::part(), "position": position, "fitted_at": fitted_at});
    company.at("2026-03-02T12:00:00Z");
    let before = part(0x41, "fill_valve", "2026-03-02T09:00:00Z");
    company.post(&path, TECHNICIAN, before).await.expect(201);
    let elsewhere = part(0x42, "inlet_strainer", "2026-03-02T09:00:00Z");
    company.post(&path, TECHNICIAN, elsewhere).await.expect(201);
    let removal = json!({"id": id(0x43), "position": "fill_valve", "action": "removed",
        "taken_at": "2026-03-02T10:30:00Z"});
    let actions = format!("{}/actions-taken", order());
    company.post(&actions, TECHNICIAN, removal.clone()).await.expect(201);
    company.post(&actions, TECHNICIAN, removal).await.expect(200);
    // Told after the removal: one that was in before it, and one that was fitted after it.
    company.post(&path, TECHNICIAN, part(0x44, "fill_valve", "2026-03-02T10:00:00Z")).await.expect(201);
    company.post(&path, TECHNICIAN, part(0x45, "fill_valve", "2026-03-02T11:00:00Z")).await.expect(201);
    let items = fitted(&company).await;
    let removed_at = |n: u32| {
        let item = items.as_array().unwrap().iter().find(|item| item["id"] == id(n));
        item.unwrap()["removed_at"].as_str().map(|at| at[11..16].to_owned())
    };
    assert_eq!(removed_at(0x41).as_deref(), Some("10:00"), "{items:#}");
    assert_eq!(removed_at(0x44).as_deref(), Some("10:30"), "{items:#}");
    assert_eq!((removed_at(0x45), removed_at(0x42)), (None, None), "{items:#}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn only_the_newest_quote_is_approved(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    note(&company, 0x41, "customer").await;
    let quotes = format!("{}/quotes", order());
    let approvals = format!("{}/approvals", order());
    let decided = |n: u32, quote: u32, decision: &str| {
        json!({"id": id(n), "quote_id": id(quote), "contact_id": company::contact(), "decision": decision,
               "decided_at": "2026-03-02T10:06:00Z"})
    };
    for n in [0x51, 0x52] {
        company
            .post(&quotes, DISPATCHER, json!({"id": id(n), "part_line_ids": [id(0x41)]}))
            .await
            .expect(201);
    }
    company.at("2026-03-02T10:07:00Z");
    let old = company.post(&approvals, DISPATCHER, decided(0x61, 0x51, "approved")).await.expect(422);
    assert_eq!(old.pointers(), ["/quote_id"]);
    assert!(old.body.to_string().contains("quote 2 took the place"), "{:#}", old.body);
    let state =
        || async { company.get(&line_path(0x41), DISPATCHER).await.expect(200).body["state"].clone() };
    assert_eq!(state().await, "quoted");
    company.post(&approvals, DISPATCHER, decided(0x62, 0x52, "approved")).await.expect(201);
    assert_eq!(state().await, "approved");
}
