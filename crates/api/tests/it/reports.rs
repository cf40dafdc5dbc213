//! What the past says: a small past, written down here with the figures that follow from it.

mod costs;
mod history;
mod measures;
mod part_life;
mod parts_usage;
mod recurring_faults;
mod repeats;

use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use crate::places::{new_appliance, new_site, stocked};
use crate::service::Service;

/// Two kitchens, three machines, two parts; their orders are written by each test.
pub struct Past {
    pub service: Service,
    pool: PgPool,
    /// In a zone without summer time and at UTC.
    pub site: String,
    /// In a zone ahead of UTC by 13 hours in January. Its name is a spreadsheet's formula.
    pub far_site: String,
    pub left: String,
    pub right: String,
    pub far: String,
    pub valve: String,
    pub gasket: String,
}

pub const FAR_NAME: &str = "=2+5 \"south\", galley";

impl Past {
    pub async fn of(pool: PgPool) -> Self {
        let service = stocked(pool.clone()).await;
        let post = async |path: &str, body: &Value| {
            service.administrator().post(path, body.clone()).await.assert(201);
            body["id"].as_str().unwrap().to_owned()
        };
        let customer = json!(post("/v1/customers", &json!({"id": service.id(), "name": "Ferry line"})).await);
        let site = post("/v1/sites", &new_site(&service, &customer)).await;
        let mut body = new_site(&service, &customer);
        (body["name"], body["time_zone"]) = (json!(FAR_NAME), json!("Pacific/Auckland"));
        let far_site = post("/v1/sites", &body).await;
        let machine = async |site: &str, serial: &str| {
            let mut body = new_appliance(&service, site);
            body["serial"] = json!(serial);
            post("/v1/appliances", &body).await
        };
        let (left, right, far) =
            (machine(&site, "K-1").await, machine(&site, "K-2").await, machine(&far_site, "K-3").await);
        let part = async |number: &str, position: &str| {
            let fits = json!([{"model_key": "demo_combi", "position": position}]);
            let body = json!({"id": service.id(), "number": number, "title": format!("Part of a {position}"),
                "unit_price": "10.00", "currency": "EUR", "fits": fits});
            post("/v1/parts", &body).await
        };
        let (valve, gasket) = (part("V-1", "fill_valve").await, part("G-1", "door_gasket").await);
        Self { service, pool, site, far_site, left, right, far, valve, gasket }
    }

    pub async fn write(&self, statement: String) {
        sqlx::raw_sql(sqlx::AssertSqlSafe(statement)).execute(&self.pool).await.unwrap();
    }

    /// An order that restored the machine, or is open. Times are of the year 2026, without it.
    pub async fn order(&self, appliance: &str, kind: &str, received: &str, restored: Option<&str>) -> String {
        let id = self.service.id();
        let (state, outcome, ended) = match restored {
            Some(at) => ("closed", "'repaired'", format!("'2026-{at}'")),
            None => ("received", "NULL", "NULL".to_owned()),
        };
        self.write(format!(
            "INSERT INTO work_order (id, site_id, appliance_id, kind, urgency, state, outcome, restored_at, closed_at,
                 received_at, body_sha256, created_at)
             SELECT '{id}', site_id, id, '{kind}', 'degraded', '{state}', {outcome}, {ended}, {ended},
                 '2026-{received}', '', '2026-{received}' FROM appliance WHERE id = '{appliance}'"
        ))
        .await;
        id
    }

    /// That the order found the position failed, an hour after `at`.
    pub async fn failed(&self, order: &str, position: &str, failure_mode: &str, at: &str) -> String {
        let (id, person) = (self.service.id(), self.service.people[&Role::Dispatcher]);
        self.write(format!(
            "INSERT INTO finding (id, work_order_id, appliance_id, position, finding, failure_mode, evidence,
                 confirmed_by, found_at, body_sha256, created_at)
             SELECT '{id}', id, appliance_id, '{position}', 'failed', '{failure_mode}', 'seen', '{person}',
                 '2026-{at}'::timestamptz + interval '1 hour', '', '2026-{at}'::timestamptz + interval '1 hour'
             FROM work_order WHERE id = '{order}'"
        ))
        .await;
        id
    }

    pub async fn retract(&self, finding: &str, at: &str) {
        let id = self.service.id();
        self.write(format!(
            "INSERT INTO finding (id, work_order_id, appliance_id, position, finding, evidence, confirmed_by, found_at,
                 supersedes_id, retraction_reason, body_sha256, created_at)
             SELECT '{id}', work_order_id, appliance_id, position, finding, evidence, confirmed_by, '2026-{at}',
                 id, 'wrong machine', '', '2026-{at}' FROM finding WHERE id = '{finding}'"
        ))
        .await;
    }

    /// A line of an order, such as `2 EUR 148.50`; `fitted` is a time of the year 2026, without it.
    pub async fn line(&self, order: &str, part: &str, what: &str, payer: &str, state: &str, fitted: &str) {
        let id = self.service.id();
        let [quantity, currency, price] = what.split(' ').collect::<Vec<_>>().try_into().unwrap();
        let fitted = if fitted.is_empty() { "NULL".to_owned() } else { format!("'2026-{fitted}'") };
        self.write(format!(
            "INSERT INTO part_line (id, work_order_id, part_id, position, quantity, state, payer, unit_price, currency,
                 fitted_at, body_sha256, created_at)
             SELECT '{id}', '{order}', '{part}', position, {quantity}, '{state}', '{payer}', {price}, '{currency}',
                 {fitted}, '', '2026-01-01' FROM part_fit WHERE part_id = '{part}'"
        ))
        .await;
    }
}
