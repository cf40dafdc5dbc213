//! Branches, kitchens and their water, machines, the catalogue.

mod appliances;
mod branches;
mod catalogue;
mod contacts;
mod drafts;
mod faults;
mod parts;
mod search;
mod sites;
mod wash_stages;

use application::catalogue::install_built_in;
use serde_json::{Value, json};
use sqlx::PgPool;

use crate::service::Service;

/// A service with the built-in catalogue.
pub async fn stocked(pool: PgPool) -> Service {
    let service = Service::over(pool).await;
    install_built_in(&service.application).await.unwrap();
    service
}

/// A kitchen of a customer of its own, and its id.
pub async fn kitchen(service: &Service) -> String {
    let customer = json!({"id": service.id(), "name": "Bay canteens"});
    service.administrator().post("/v1/customers", customer.clone()).await.assert(201);
    let site = new_site(service, &customer["id"]);
    service.administrator().post("/v1/sites", site.clone()).await.assert(201);
    site["id"].as_str().unwrap().to_owned()
}

pub fn new_site(service: &Service, customer: &Value) -> Value {
    json!({
        "id": service.id(), "customer_id": customer, "name": "Harbour kitchen", "place": "Quay 3",
        "time_zone": "Atlantic/Reykjavik",
    })
}

pub fn new_appliance(service: &Service, site: &str) -> Value {
    json!({
        "id": service.id(), "site_id": site, "model": {"key": "demo_combi"}, "position_label": "left of the hatch",
        "serial": "K-1001", "installed_on": "2024-05-01",
    })
}

/// An order at the kitchen with a visit of the test's technician.
pub async fn send_there(service: &Service, pool: &PgPool, site: &str) {
    let technician = service.people[&domain::role::Role::Technician];
    let (order, visit) = (service.id(), service.id());
    let statements = format!(
        "INSERT INTO work_order (id, site_id, kind, urgency, state, received_at, body_sha256, created_at)
         VALUES ('{order}', '{site}', 'corrective', 'degraded', 'received', now(), '', now());
         INSERT INTO visit (id, work_order_id, planned_at, body_sha256, created_at)
         VALUES ('{visit}', '{order}', now(), '', now());
         INSERT INTO visit_person (visit_id, person_id) VALUES ('{visit}', '{technician}');"
    );
    sqlx::raw_sql(sqlx::AssertSqlSafe(statements)).execute(pool).await.unwrap();
}
