use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use super::{kitchen, new_appliance, send_there, stocked};

#[sqlx::test(migrations = "../../migrations")]
async fn a_caller_is_found_by_what_he_can_name(pool: PgPool) {
    let service = stocked(pool.clone()).await;
    let site = kitchen(&service).await;
    let machine = new_appliance(&service, &site);
    service.administrator().post("/v1/appliances", machine.clone()).await.assert(201);
    let contact =
        json!({"id": service.id(), "site_id": site, "name": "Ines Example", "phone": "+351 215 550 123"});
    service.administrator().post("/v1/contacts", contact.clone()).await.assert(201);
    send_there(&service, &pool, &site).await;
    let ask = async |q: &str| service.as_role(Role::Dispatcher).get(&format!("/v1/search?q={q}")).await;
    for (q, kind, id) in [
        ("harbour", "site", json!(site)),
        ("quay%203", "site", json!(site)),
        ("k-100", "appliance", machine["id"].clone()),
        ("example", "contact", contact["id"].clone()),
        ("0123", "contact", contact["id"].clone()),
        ("0215550123", "contact", contact["id"].clone()),
        ("%2B351215550123", "contact", contact["id"].clone()),
    ] {
        let found = ask(q).await;
        let first = &found.body["items"][0];
        assert_eq!((first["kind"].as_str().unwrap(), &first["id"]), (kind, &id), "{q}");
        assert_eq!(first["site_id"], json!(site), "{q}: the kitchen is what the call is booked on");
    }
    assert_eq!(ask("%231").await.body["items"][0]["kind"], json!("work_order"));
    assert_eq!(ask("canteens").await.body["items"][0]["kind"], json!("customer"));
    for nothing in ["k%25", "k_100", "9999", "nobody"] {
        assert_eq!(ask(nothing).await.body["items"], json!([]), "{nothing}");
    }
    ask("x").await.assert_problem(400, "malformed").assert_fault("q");
    service.as_role(Role::Technician).get("/v1/search?q=harbour").await.assert_problem(403, "wrong-role");
}

/// The extension may be absent, or whoever owns the database may not make it: the search then reads the tables through.
#[sqlx::test(migrations = "../../migrations")]
async fn the_same_is_found_without_trigrams(pool: PgPool) {
    let service = stocked(pool.clone()).await;
    let site = kitchen(&service).await;
    let asked = ["search?q=harbour", "search?q=k-100", "sites?search=quay", "customers?search=canteens"];
    let ask =
        async |path: &str| service.administrator().get(&format!("/v1/{path}")).await.body["items"].clone();
    let mut with = Vec::new();
    for path in asked {
        with.push(ask(path).await);
    }
    assert_eq!(with[0][0]["id"], json!(site));
    sqlx::raw_sql("DROP EXTENSION pg_trgm CASCADE").execute(&pool).await.unwrap();
    for (path, with) in asked.into_iter().zip(with) {
        assert_eq!(ask(path).await, with, "{path}");
    }

    let may_not =
        "BEGIN; CREATE ROLE may_not_make_it; SET LOCAL ROLE may_not_make_it; SELECT search_by_trigrams()";
    let mut connection = pool.acquire().await.unwrap();
    let answer: bool = sqlx::Row::get(&sqlx::raw_sql(may_not).fetch_one(&mut *connection).await.unwrap(), 0);
    assert!(!answer, "told, not failed");
    sqlx::raw_sql("ROLLBACK").execute(&mut *connection).await.unwrap();

    let database = service.application.database();
    assert!(store::search::prepare(database).await.unwrap(), "made as soon as it can be");
    let indexes = "SELECT count(*) FROM pg_indexes WHERE indexname LIKE '%\\_letters'";
    let made: i64 = sqlx::Row::get(&sqlx::raw_sql(indexes).fetch_one(&pool).await.unwrap(), 0);
    assert_eq!(made, 7);
}
