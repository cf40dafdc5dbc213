//! Machines that were read, for the tests of learning.

use domain::time::Timestamp;
use serde_json::{Value, json};
use sqlx::PgPool;

use crate::service::Service;

/// Day 200.
pub const AS_OF: &str = "2020-07-19T00:00:00Z";

/// Midnight of a day counted from the new year of 2020.
pub fn day(number: i64) -> String {
    instant(number, 0).to_string()
}

fn instant(day: i64, minute: i64) -> Timestamp {
    let start: Timestamp = "2020-01-01T00:00:00Z".parse().unwrap();
    Timestamp::new(start.instant() + chrono::TimeDelta::minutes(day * 1440 + minute)).unwrap()
}

fn id(number: u32) -> String {
    format!("01890a5d-ac96-774b-9000-{number:012x}")
}

/// Fill times of a good unit at its four visits, in seconds.
pub fn values(unit: u32) -> [f64; 4] {
    [0.99, 1.01, 0.995, 1.005].map(|share| share * (12.0 + 0.1 * f64::from(unit)))
}

/// The one that counts for the fleet.
pub fn latest(unit: u32) -> f64 {
    values(unit)[3]
}

pub struct Fleet {
    pub service: Service,
    pool: PgPool,
    pub appliances: Vec<String>,
    /// By appliance, the runs of the fill time.
    fills: Vec<Vec<String>>,
    next: u32,
}

impl Fleet {
    pub async fn new(pool: PgPool, appliances: u32) -> Self {
        let service = Service::over(pool.clone()).await;
        application::catalogue::install_built_in(&service.application).await.unwrap();
        let post = async |path: &str, body: Value| {
            service.administrator().post(path, body).await.assert(201);
        };
        post("/v1/customers", json!({"id": id(1), "name": "Bakery of the test"})).await;
        let site = json!({"id": id(2), "customer_id": id(1), "name": "Shop", "place": "By the mill", "time_zone": "Etc/UTC"});
        post("/v1/sites", site).await;
        let ids: Vec<String> = (0..appliances).map(|unit| id(0x1000 + unit)).collect();
        for id_of_unit in &ids {
            let appliance = json!({"id": id_of_unit, "site_id": id(2), "model": {"key": "demo_combi", "version": 1},
                "position_label": "line 1"});
            post("/v1/appliances", appliance).await;
        }
        let fills = ids.iter().map(|_| Vec::new()).collect();
        Self { service, pool, appliances: ids, fills, next: 0x10_0000 }
    }

    /// Ten units with four good readings each, and one unit for each reason not to count.
    pub async fn known_good(pool: PgPool) -> Self {
        let mut fleet = Self::new(pool, 15).await;
        for unit in 0..10 {
            for (visit, seconds) in (0..).zip(values(unit)) {
                fleet.visit(unit, visit * 40, seconds).await;
            }
        }
        fleet.visit(10, 0, 17.0).await;
        fleet.order(10, 10).await;
        let no_cycle = [fleet.pressure(11, 0), fleet.strainers(11, 0), fleet.fill(11, 0, 17.0)];
        fleet.send(&no_cycle).await;
        let drain = fleet.drain(12, 0, 50.0);
        fleet.send(&[drain]).await;
        fleet.visit(12, 0, 17.0).await;
        fleet.visit(13, 190, 17.0).await;
        let no_pressure = [fleet.strainers(14, 0), fleet.fill(14, 0, 17.0), fleet.cycle(14, 0)];
        fleet.send(&no_pressure).await;
        fleet
    }

    /// Reads a machine on a day; all else is well. The run of the fill time.
    pub async fn visit(&mut self, unit: u32, day: i64, seconds: f64) -> String {
        let runs = [
            self.pressure(unit, day),
            self.strainers(unit, day),
            self.fill(unit, day, seconds),
            self.cycle(unit, day),
        ];
        self.send(&runs).await;
        self.last_fill(unit)
    }

    pub fn last_fill(&self, unit: u32) -> String {
        self.fills[unit as usize].last().unwrap().clone()
    }

    /// The healthy reference beside the verdict on a fill time.
    pub async fn healthy(&self, run: &str) -> Value {
        let verdicts = self.service.administrator().get(&format!("/v1/test-runs/{run}/verdicts")).await;
        verdicts.assert(200);
        let healthy = verdicts.body["verdicts"][0]["healthy"].clone();
        let version = &verdicts.body["knowledge_version"];
        assert!(healthy["knowledge_version"].is_null() || healthy["knowledge_version"] == *version);
        healthy
    }

    async fn send(&self, runs: &[Value]) {
        let answer = self.service.administrator().post("/v1/test-runs", json!({"runs": runs})).await;
        for item in answer.body["items"].as_array().unwrap() {
            assert_eq!(item["status"], "created", "{item}");
        }
    }

    #[expect(clippy::needless_pass_by_value, reason = "tests read better without the borrow")]
    fn run(
        &mut self,
        unit: u32,
        day: i64,
        minute: i64,
        procedure: &str,
        readings: Value,
        confirmed: Value,
    ) -> Value {
        self.next += 1;
        json!({
            "id": id(self.next), "appliance_id": self.appliances[unit as usize],
            "procedure": {"key": procedure, "version": 1}, "phase": "baseline", "device_id": "phone",
            "sequence": self.next, "taken_at": instant(day, 600 + minute), "readings": readings,
            "conditions": {"confirmed": confirmed},
        })
    }

    /// At the model's reference, so that a fill time needs no correction.
    fn pressure(&mut self, unit: u32, day: i64) -> Value {
        let readings =
            json!([number("static_pressure", 3.0, "bar"), number("dynamic_pressure", 2.831, "bar")]);
        self.run(unit, day, 0, "inlet_pressure", readings, json!([]))
    }

    fn strainers(&mut self, unit: u32, day: i64) -> Value {
        let readings = json!([choice("inlet_strainer", "clear"), choice("valve_strainer", "clear")]);
        self.run(unit, day, 1, "strainer_look", readings, json!([]))
    }

    fn fill(&mut self, unit: u32, day: i64, seconds: f64) -> Value {
        let run = self.run(
            unit,
            day,
            2,
            "fill_time",
            json!([number("fill_time", seconds, "s")]),
            json!(["sump_empty"]),
        );
        self.fills[unit as usize].push(run["id"].as_str().unwrap().to_owned());
        run
    }

    fn drain(&mut self, unit: u32, day: i64, seconds: f64) -> Value {
        let readings = json!([number("drain_time", seconds, "s"), number("residue", 0.05, "L")]);
        self.run(unit, day, 3, "drain_time", readings, json!(["sump_full"]))
    }

    fn cycle(&mut self, unit: u32, day: i64) -> Value {
        let readings =
            json!([choice("outcome", "completed"), choice("cleanliness", "clean"), choice("leaks", "dry")]);
        self.run(unit, day, 10, "full_cycle", readings, json!(["chemical_loaded"]))
    }

    /// A corrective call on a day.
    pub async fn order(&mut self, unit: u32, day: i64) -> uuid::Uuid {
        self.next += 1;
        let order: uuid::Uuid = id(self.next).parse().unwrap();
        let appliance: uuid::Uuid = self.appliances[unit as usize].parse().unwrap();
        let site: uuid::Uuid = id(2).parse().unwrap();
        sqlx::query!(
            "INSERT INTO work_order (id, site_id, appliance_id, kind, urgency, state, received_at, body_sha256, created_at)
             VALUES ($1, $2, $3, 'corrective', 'degraded', 'received', $4, '', $4)",
            order,
            site,
            appliance,
            instant(day, 480).instant()
        )
        .execute(&self.pool)
        .await
        .unwrap();
        order
    }

    /// A part of the position is replaced in the morning of a day, on an order of that day.
    pub async fn repair(&mut self, unit: u32, position: &str, day: i64) {
        let order = self.order(unit, day).await;
        self.next += 1;
        let action: uuid::Uuid = id(self.next).parse().unwrap();
        let by = self.service.people[&domain::role::Role::Technician];
        sqlx::query!(
            "INSERT INTO action_taken (id, work_order_id, position, action, taken_by, taken_at, body_sha256, created_at)
             VALUES ($1, $2, $3, 'replaced', $4, $5, '', $5)",
            action,
            order,
            position,
            by.uuid(),
            instant(day, 540).instant()
        )
        .execute(&self.pool)
        .await
        .unwrap();
    }
}

fn number(step: &str, value: f64, unit: &str) -> Value {
    json!({"step": step, "value": {"value": value, "unit": unit, "uncertainty": 0.02}})
}

fn choice(step: &str, choice: &str) -> Value {
    json!({"step": step, "choice": choice})
}
