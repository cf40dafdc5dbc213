use std::collections::BTreeMap;
use std::num::NonZeroU32;
use std::sync::Arc;

use api::{ApiState, Settings as ApiSettings};
use application::Application;
use application::catalogue::install_built_in;
use application::person::CreatePerson;
use application::surroundings::{Clock, SystemIds};
use application::token::CreateToken;
use application::{Caller, Principal};
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode, header};
use domain::id::PersonId;
use domain::role::{Role, Scope};
use domain::text::Name;
use domain::time::Timestamp;
use serde_json::Value;
use sqlx::PgPool;
use store::person::NewPerson;
use store::unit_of_work::IdSource;
use tower::ServiceExt;

use super::*;

#[derive(Debug)]
struct AfterTheHistory;

impl Clock for AfterTheHistory {
    fn now(&self) -> Timestamp {
        Timestamp::try_from("2026-01-01T08:00:00Z".to_owned()).unwrap()
    }
}

fn small() -> Settings {
    Settings { kitchens: 10, kitchens_of_a_branch: 5, ..Settings::benchmark(3) }
}

async fn loaded(pool: &PgPool) -> (Application, Totals) {
    let database = Database::over(pool.clone());
    let application = Application::new(database.clone(), Arc::new(AfterTheHistory), Arc::new(SystemIds));
    install_built_in(&application).await.unwrap();
    let totals = load(&database, small(), |_, _, _| ()).await.unwrap();
    bulk::settle(&database).await.unwrap();
    (application, totals)
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_small_company_is_stored_whole_and_its_summary_agrees(pool: PgPool) {
    let database = Database::over(pool);
    install_built_in(&crate::wiring::application(database.clone())).await.unwrap();
    let mut told = 0;
    let totals = load(&database, small(), |done, _, _| told = done).await.unwrap();
    assert_eq!(told, 2);
    let held = bulk::settle(&database).await.unwrap();
    let counted = [
        (held.sites, totals.sites),
        (held.appliances, totals.appliances),
        (held.work_orders, totals.orders),
        (held.test_runs, totals.test_runs),
        (held.readings, totals.readings),
        (held.findings, totals.findings),
        (held.part_lines, totals.part_lines),
    ];
    assert!(counted.iter().all(|(held, told)| *held as u64 == *told), "{held:?} {totals:?}");
    assert!(totals.orders > 100 && totals.readings > 1000, "{totals:?}");
    assert_eq!(store::fault_count::rebuild(&database).await.unwrap(), 0);
    let checked = store::check::all(&database, &mut |_| ()).await.unwrap();
    assert!(checked.iter().all(|checked| checked.broken == 0), "{checked:?}");
}

struct Client {
    router: Router,
    secret: String,
}

impl Client {
    /// As an administrator who was hired after the history.
    async fn new(application: &Application) -> Self {
        let person = PersonId::try_from(SystemIds.next(application.now())).unwrap();
        let (name, role, scopes) = (Name::new("Bench").unwrap(), Role::Administrator, Scope::ALL.to_vec());
        let principal =
            Principal { person, token: None, name: name.to_string(), role, scopes: scopes.clone() };
        let caller = Caller { principal, request_id: "test".to_owned() };
        let hired = NewPerson { id: person, name: name.clone(), role, skills: Vec::new() };
        application.perform(&caller, CreatePerson(hired)).await.unwrap();
        let secret = api::new_secret(application).await.unwrap();
        let token = CreateToken { person, name, scopes, expires_at: None, secret: secret.clone() };
        application.perform(&caller, token).await.unwrap();
        let settings = ApiSettings { requests_per_minute: NonZeroU32::MAX, ..ApiSettings::default() };
        let router = api::router(ApiState::new(application.clone(), &settings), &settings);
        Self { router, secret: secret.0 }
    }

    async fn get(&self, path: &str) -> Value {
        let request = Request::get(path).header(header::AUTHORIZATION, format!("Bearer {}", self.secret));
        let answer = self.router.clone().oneshot(request.body(Body::empty()).unwrap()).await.unwrap();
        let status = answer.status();
        let bytes = to_bytes(answer.into_body(), usize::MAX).await.unwrap();
        let body = serde_json::from_slice(&bytes).unwrap_or_default();
        assert_eq!(status, StatusCode::OK, "{path}: {body}");
        body
    }

    /// The items of a list's first page.
    async fn items(&self, path: &str) -> Vec<Value> {
        let answer = self.get(path).await;
        answer["items"].as_array().unwrap_or_else(|| panic!("{path} is no list")).clone()
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_interface_works_on_it(pool: PgPool) {
    let (application, totals) = loaded(&pool).await;
    let client = Client::new(&application).await;
    assert_eq!(client.items("/v1/sites").await.len() as u64, totals.sites);
    // Whether any order is open at the end of so small a history is chance; that they are told is not.
    client.items("/v1/work-orders?open=true").await;
    assert!(client.items("/v1/reports/parts-usage?group_by=month").await.len() > 12);

    let orders = client.items("/v1/work-orders?kind=corrective&outcome=repaired&limit=200").await;
    assert!(orders.len() > 20, "{}", orders.len());
    let mut of_machine: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for order in &orders {
        let appliance = order["appliance_id"].as_str().expect("a repaired order has its machine");
        of_machine.entry(appliance).or_default().push(order["id"].as_str().unwrap());
    }
    let mut diagnosed = 0;
    for (appliance, orders) in &of_machine {
        let history = client.items(&format!("/v1/appliances/{appliance}/history")).await;
        assert!(history.len() > orders.len(), "{history:?}");
        assert!(!client.items(&format!("/v1/appliances/{appliance}/positions")).await.is_empty());
        client.get(&format!("/v1/appliances/{appliance}/drift")).await;
        let machine = client.get(&format!("/v1/appliances/{appliance}")).await;
        let site = machine["site_id"].as_str().unwrap();
        client.get(&format!("/v1/sites/{site}/recurring-faults")).await;
        client.get(&format!("/v1/sites/{site}/water")).await;
        let verdicts = client.get(&format!("/v1/work-orders/{}/verdicts?epoch=0", orders[0])).await;
        assert!(verdicts["verdicts"].is_array(), "{verdicts}");
        if diagnosed < 3 {
            let diagnosis = client.get(&format!("/v1/work-orders/{}/diagnosis", orders[0])).await;
            assert!(diagnosis["sets"].as_array().is_some_and(|sets| !sets.is_empty()), "{diagnosis}");
            diagnosed += 1;
        }
    }
    assert_eq!(diagnosed, 3);
}
