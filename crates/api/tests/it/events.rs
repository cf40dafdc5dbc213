//! What happens, as it happens: the stream of the feed.

use std::time::Duration;

use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use crate::service::{Answered, Service};

fn text(answer: &Answered) -> &str {
    answer.assert(200);
    answer.body.as_str().unwrap_or_default()
}

/// The last id that a stream gave.
fn last_id(stream: &str) -> String {
    let mut ids = stream.lines().filter_map(|line| line.strip_prefix("id: "));
    ids.next_back().expect("an id").to_owned()
}

async fn begin(service: &Service, role: Role) -> String {
    last_id(text(&service.as_role(role).get("/v1/events").await))
}

async fn add_customer(service: &Service) {
    let body = json!({"id": service.id(), "name": "Bay"});
    service.administrator().post("/v1/customers", body).await.assert(201);
}

/// Comes again with the last id until this is told.
async fn until(service: &Service, role: Role, mut id: String, kind: &str) -> String {
    // The feed waits for transactions that still run, those of other databases of the server among them.
    for _ in 0..3000 {
        let answer = service.as_role(role).header("last-event-id", &id).get("/v1/events").await;
        let stream = text(&answer);
        if stream.contains(kind) {
            return stream.to_owned();
        }
        if !stream.is_empty() {
            id = last_id(stream);
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    panic!("{kind} was never told");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_stream_goes_on_from_the_last_id_and_tells_each_what_he_may_see(pool: PgPool) {
    let service = Service::over(pool).await;
    let (office, technician) =
        (begin(&service, Role::Dispatcher).await, begin(&service, Role::Technician).await);
    add_customer(&service).await;
    let told = until(&service, Role::Dispatcher, office, "customer.created").await;
    let data = told.lines().filter_map(|line| line.strip_prefix("data: "));
    let changes: Vec<Value> = data.map(|data| serde_json::from_str(data).unwrap()).collect();
    assert!(changes.iter().any(|change| change["kind"] == "customer.created"), "{told}");
    let again =
        service.as_role(Role::Dispatcher).header("last-event-id", last_id(&told)).get("/v1/events").await;
    assert!(!text(&again).contains("customer.created"), "told twice");
    let theirs =
        service.as_role(Role::Technician).header("last-event-id", technician).get("/v1/events").await;
    assert!(!text(&theirs).contains("customer.created"), "{}", theirs.body);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_place_that_is_none_is_refused_and_one_of_another_life_starts_over(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    let begun = begin(&service, Role::Manager).await;
    for forged in ["abc", "\u{e4}"] {
        let answer = service.as_role(Role::Manager).header("last-event-id", forged).get("/v1/events").await;
        answer.assert_problem(400, "malformed").assert_fault("Last-Event-ID");
    }
    let answer = service.as_role(Role::Manager).get("/v1/events?cursor=abc").await;
    answer.assert_problem(400, "malformed").assert_fault("cursor");
    sqlx::raw_sql("UPDATE database_epoch SET epoch = gen_random_uuid()").execute(&pool).await.unwrap();
    let after = service.as_role(Role::Manager).get(&format!("/v1/events?cursor={begun}")).await;
    assert!(text(&after).starts_with("event: start_over"), "{}", after.body);
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_open_stream_tells_at_once_and_ends_when_its_token_is_revoked(pool: PgPool) {
    let service = Service::over(pool).await;
    let teller = tokio::spawn(service.application.clone().keep_telling());
    let begun = begin(&service, Role::Dispatcher).await;
    let person = service.people[&Role::Dispatcher];
    let tokens = service.administrator().get(&format!("/v1/people/{person}/tokens")).await;
    let token = tokens.body["items"][0]["id"].as_str().unwrap().to_owned();
    let listens =
        async { service.as_role(Role::Dispatcher).get(&format!("/v1/events?wait=600&cursor={begun}")).await };
    let happens = async {
        tokio::time::sleep(Duration::from_millis(200)).await;
        add_customer(&service).await;
        // What was told before the token was revoked is his to read.
        until(&service, Role::Manager, begun.clone(), "customer.created").await;
        tokio::time::sleep(Duration::from_secs(2)).await;
        service.administrator().delete(&format!("/v1/tokens/{token}")).await.assert(204);
        add_customer(&service).await;
    };
    let (stream, ()) = tokio::time::timeout(Duration::from_mins(1), async { tokio::join!(listens, happens) })
        .await
        .expect("the stream ends");
    assert_eq!(text(&stream).matches("customer.created").count(), 1, "{}", stream.body);
    teller.abort();
}
