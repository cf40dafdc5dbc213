//! A company of its own for each test: a clock that the test sets, people, two kitchens, three machines, a part.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use api::Settings;
use application::surroundings::Clock;
use axum::http::Method;
use domain::time::Timestamp;
use serde_json::{Value, json};
use sqlx::PgPool;

use crate::service::{Answered, Service};

#[derive(Debug)]
struct TestClock(AtomicI64);

impl Clock for TestClock {
    fn now(&self) -> Timestamp {
        let instant = chrono::DateTime::from_timestamp_micros(self.0.load(Ordering::SeqCst));
        Timestamp::new(instant.unwrap()).unwrap()
    }
}

#[derive(Clone)]
pub struct Company {
    service: Arc<Service>,
    clock: Arc<TestClock>,
    pub pool: PgPool,
}

/// Tokens.
pub const TECHNICIAN: &str = "technician";
pub const OTHER_TECHNICIAN: &str = "other_technician";
pub const DISPATCHER: &str = "dispatcher";

/// The n-th id of a test.
pub fn id(n: u32) -> String {
    format!("01890a5d-ac96-774b-8000-{n:012x}")
}

/// Ids that every test's company has.
pub fn person(token: &str) -> String {
    id(match token {
        TECHNICIAN => 0xa1,
        OTHER_TECHNICIAN => 0xa2,
        DISPATCHER => 0xa3,
        _ => panic!("no such person"),
    })
}
pub fn customer() -> String {
    id(0xb1)
}
pub fn site() -> String {
    id(0xb2)
}
pub fn other_site() -> String {
    id(0xb3)
}
pub fn appliance() -> String {
    id(0xb4)
}
pub fn second_appliance() -> String {
    id(0xb5)
}
pub fn appliance_elsewhere() -> String {
    id(0xb6)
}
pub fn contact() -> String {
    id(0xb7)
}
pub fn part() -> String {
    id(0xb8)
}

impl Company {
    pub async fn over(pool: PgPool) -> Self {
        let clock = Arc::new(TestClock(AtomicI64::new(0)));
        let service = Service::on(pool.clone(), &Settings::default(), clock.clone()).await;
        let company = Self { service: Arc::new(service), clock, pool };
        seed(&company).await;
        company.at("2026-03-02T08:00:00Z");
        company
    }

    /// What stands in the header for one of the tokens.
    async fn secret(&self, token: &str) -> String {
        application::token::seal(&self.service.application, token).await.unwrap().0
    }

    pub fn application(&self) -> &application::Application {
        &self.service.application
    }

    /// The rules between rows that `ovenwright check` finds broken, each with its way out.
    pub async fn broken(&self) -> Vec<(&'static str, &'static str)> {
        let checked = store::check::all(self.application().database(), &mut |_| {}).await.unwrap();
        let broken = checked.into_iter().filter(|checked| checked.broken > 0);
        broken.map(|checked| (checked.rule, checked.way_out)).collect()
    }

    /// Sets the clock.
    pub fn at(&self, time: &str) {
        let time: Timestamp = time.parse().unwrap();
        self.clock.0.store(time.instant().timestamp_micros(), Ordering::SeqCst);
    }

    pub async fn send(
        &self,
        method: &str,
        path: &str,
        token: &str,
        headers: &[(&'static str, &str)],
        body: Option<Value>,
    ) -> Answered {
        let mut asking = self.service.administrator().secret(&self.secret(token).await);
        for (name, value) in headers {
            asking = asking.header(name, *value);
        }
        asking.send(method.parse::<Method>().unwrap(), path, body).await
    }

    pub async fn get(&self, path: &str, token: &str) -> Answered {
        self.send("GET", path, token, &[], None).await
    }

    pub async fn post(&self, path: &str, token: &str, body: Value) -> Answered {
        self.send("POST", path, token, &[], Some(body)).await
    }

    /// As a manager, whom the company has beside its people.
    pub async fn post_as_manager(&self, path: &str, body: Value) -> Answered {
        self.service.as_role(domain::role::Role::Manager).post(path, body).await
    }

    /// [`Self::act`] as a manager, on a version.
    pub async fn act_as_manager(&self, resource: &str, action: &str, etag: &str, body: Value) -> Answered {
        let manager = self.service.as_role(domain::role::Role::Manager).header("if-match", etag);
        manager.post(&format!("{resource}/actions/{action}"), body).await
    }

    /// Moves or changes something on the version that stands now, which `of` tells.
    pub async fn on_current(&self, method: &str, path: &str, of: &str, token: &str, body: Value) -> Answered {
        let etag = self.get(of, token).await.etag();
        self.send(method, path, token, &[("if-match", &etag)], Some(body)).await
    }
    /// Brings the catalogues of faults in.
    pub async fn with_faults(self) -> Self {
        application::catalogue::install_built_in(&self.service.application).await.unwrap();
        self
    }

    /// Takes a catalogue of faults in, as an administrator.
    pub async fn take_catalogue(&self, catalogue: Value) {
        self.service.administrator().post("/v1/fault-catalogues", catalogue).await.assert(201);
    }

    /// Learns as of an instant; the number of the version.
    pub async fn learn(&self, as_of: &str) -> i64 {
        let body = json!({"id": self.service.id(), "as_of": as_of});
        let manager = self.service.as_role(domain::role::Role::Manager);
        let asked = manager.post("/v1/knowledge-versions", body).await.expect(201);
        self.service.application.learn().await;
        asked.body["n"].as_i64().unwrap()
    }

    /// Moves an order, a visit, a part line on the version that stands now.
    pub async fn act(&self, resource: &str, action: &str, token: &str, body: Value) -> Answered {
        self.on_current("POST", &format!("{resource}/actions/{action}"), resource, token, body).await
    }
}

async fn seed(company: &Company) {
    let pool = &company.pool;
    for list in domain::vocabulary::lists() {
        let keys: Vec<String> = list.terms.iter().map(|term| term.key.to_owned()).collect();
        match list.name {
            "position" => sqlx::query!("INSERT INTO position SELECT UNNEST($1::text[])", &keys),
            "symptom" => sqlx::query!("INSERT INTO symptom_code SELECT UNNEST($1::text[])", &keys),
            "failure_mode" => sqlx::query!("INSERT INTO failure_mode SELECT UNNEST($1::text[])", &keys),
            "mechanism" => sqlx::query!("INSERT INTO mechanism SELECT UNNEST($1::text[])", &keys),
            "cause" => sqlx::query!("INSERT INTO cause SELECT UNNEST($1::text[])", &keys),
            "action" => sqlx::query!("INSERT INTO repair_action SELECT UNNEST($1::text[])", &keys),
            _ => continue,
        }
        .execute(pool)
        .await
        .unwrap();
    }
    for procedure in domain::procedure::built_in_procedures() {
        sqlx::query!(
            "INSERT INTO procedure (key, version, payload, body_sha256, created_at) VALUES ($1, $2, $3, '', now())",
            procedure.key.as_str(),
            procedure.version.cast_signed(),
            json!(procedure),
        )
        .execute(pool)
        .await
        .unwrap();
    }
    let model = &domain::equipment::built_in_models()[0];
    sqlx::query!(
        "INSERT INTO model (key, version, payload, body_sha256, created_at) VALUES ($1, $2, $3, '', now())",
        model.key.as_str(),
        model.version.cast_signed(),
        json!(model),
    )
    .execute(pool)
    .await
    .unwrap();
    seed_people(company).await;
    seed_places(pool, model.key.as_str(), model.version.cast_signed()).await;
}

async fn seed_people(company: &Company) {
    for (index, (token, role)) in
        [(TECHNICIAN, "technician"), (OTHER_TECHNICIAN, "technician"), (DISPATCHER, "dispatcher")]
            .into_iter()
            .enumerate()
    {
        sqlx::query!(
            "WITH somebody AS (
                 INSERT INTO person (id, name, role, body_sha256, created_at) VALUES ($1, $2, $3, '', now())
             )
             INSERT INTO token (id, person_id, name, sha256, scopes, created_at)
             VALUES ($4, $1, 'test', sha256($5::text::bytea), '{read,write}', now())",
            uuid(&person(token)),
            token,
            role,
            uuid(&id(0xc0 + u32::try_from(index).unwrap())),
            company.secret(token).await,
        )
        .execute(&company.pool)
        .await
        .unwrap();
    }
}

async fn seed_places(pool: &PgPool, model: &str, version: i32) {
    sqlx::query!(
        "WITH c AS (INSERT INTO customer (id, name, body_sha256, created_at) VALUES ($1, 'Ferry line', '', now())),
         s AS (INSERT INTO site (id, customer_id, name, place, time_zone, body_sha256, created_at)
             VALUES ($2, $1, 'Galley', 'Quay', 'Etc/UTC', '', now()), ($3, $1, 'Canteen', 'Quay', 'Etc/UTC', '', now()))
         INSERT INTO contact (id, site_id, name, body_sha256, created_at) VALUES ($4, $2, 'The cook', '', now())",
        uuid(&customer()),
        uuid(&site()),
        uuid(&other_site()),
        uuid(&contact()),
    )
    .execute(pool)
    .await
    .unwrap();
    sqlx::query!(
        "INSERT INTO appliance (id, site_id, model_key, model_version, position_label, state, body_sha256, created_at)
         VALUES ($1, $4, $6, $7, 'left', 'up', '', now()), ($2, $4, $6, $7, 'right', 'up', '', now()),
             ($3, $5, $6, $7, 'only', 'up', '', now())",
        uuid(&appliance()),
        uuid(&second_appliance()),
        uuid(&appliance_elsewhere()),
        uuid(&site()),
        uuid(&other_site()),
        model,
        version,
    )
    .execute(pool)
    .await
    .unwrap();
    sqlx::query!(
        "INSERT INTO part (id, number, title, unit_price, currency, body_sha256, created_at)
         VALUES ($1, 'V-1', 'Fill valve', 148.50, 'EUR', '', now())",
        uuid(&part()),
    )
    .execute(pool)
    .await
    .unwrap();
}

pub fn uuid(text: &str) -> uuid::Uuid {
    text.parse().unwrap()
}
