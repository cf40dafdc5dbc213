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
