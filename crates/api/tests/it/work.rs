//! From the call to the closed order.

mod belonging;
mod calls;
mod diagnosis;
mod learned_faults;
mod no_way_round;
mod notes;
mod out_of_sight;
mod parts;
mod proof;
mod small_walls;
mod stop_use;
mod story;
mod verdicts;
mod whose_readings;
mod wrong_unit;

use serde_json::{Value, json};

use crate::company::{self, Company, DISPATCHER, TECHNICIAN, id};

/// An order of the first appliance, received by a call.
pub fn order() -> String {
    format!("/v1/work-orders/{}", id(2))
}

pub fn visit(n: u32) -> String {
    format!("/v1/visits/{}", id(n))
}

pub fn call() -> Value {
    json!({
        "id": id(1), "site_id": company::site(), "contact_id": company::contact(),
        "words": "It stops after ten minutes and nothing is clean.", "urgency": "degraded", "stop_use": false,
        "orders": [{"id": id(2), "appliance_id": company::appliance(), "symptoms": ["does_not_clean"]}],
    })
}

/// Booked for the technician.
pub async fn book(company: &Company, n: u32) -> crate::service::Answered {
    let body =
        json!({"id": id(n), "planned_at": "2026-03-02T10:00:00Z", "people": [company::person(TECHNICIAN)]});
    company.post(&format!("{}/visits", order()), DISPATCHER, body).await
}

/// A call, its order assessed and planned, and the technician on site.
pub async fn on_site(company: &Company) {
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    company.act(&order(), "assess", DISPATCHER, json!({})).await.expect(200);
    book(company, 3).await.expect(201);
    company.act(&order(), "plan", DISPATCHER, json!({})).await.expect(200);
    company.at("2026-03-02T10:05:00Z");
    company.act(&visit(3), "arrive", TECHNICIAN, json!({})).await.expect(200);
    company.act(&order(), "start_repair", TECHNICIAN, json!({})).await.expect(200);
}
