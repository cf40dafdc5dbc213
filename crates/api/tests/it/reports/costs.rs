use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::Past;
use crate::places::send_there;

#[sqlx::test(migrations = "../../migrations")]
async fn a_machines_cost_stands_beside_the_price_of_a_new_one_in_its_currency(pool: PgPool) {
    let past = Past::of(pool).await;
    let order = past.order(&past.left, "corrective", "01-05 06:00Z", Some("01-05 10:00Z")).await;
    past.line(&order, &past.valve, "2 EUR 600.00", "customer", "fitted", "01-05 09:00Z").await;
    past.line(&order, &past.gasket, "9 EUR 900.00", "customer", "returned_unused", "").await;
    past.line(&order, &past.gasket, "1 EUR 3000.00", "warranty", "fitted", "01-05 09:00Z").await;
    // Within the last twelve months, whenever this is read; another long before.
    let lately = |order: &str| {
        format!(
            "UPDATE part_line SET fitted_at = now() - interval '30 days' WHERE work_order_id = '{order}' AND state = 'fitted'"
        )
    };
    past.write(lately(&order)).await;
    let old = past.order(&past.left, "corrective", "01-02 06:00Z", Some("01-02 10:00Z")).await;
    past.line(&old, &past.valve, "1 EUR 5000.00", "customer", "fitted", "01-02 09:00Z").await;
    past.write(format!("UPDATE part_line SET fitted_at = '2019-06-01' WHERE work_order_id = '{old}'")).await;

    let ask = |role: Role| past.service.as_role(role);
    let machine = format!("/v1/appliances/{}", past.left);
    let costs =
        async || ask(Role::Dispatcher).get(&format!("{machine}/costs")).await.assert(200).body.clone();
    let tell = async |role: Role, price: Value| {
        let etag = ask(Role::Dispatcher).get(&machine).await.header("etag").to_owned();
        ask(role).header("if-match", &etag).patch(&machine, json!({"replacement_price": price})).await
    };
    let unsaid = costs().await;
    for unknown in ["replacement_price", "share_of_new", "advice"] {
        assert_eq!(unsaid[unknown], Value::Null, "{unknown}");
    }
    assert_eq!(unsaid["last_twelve_months"], json!([{"amount": "1200.00", "currency": "EUR"}]));
    let oldest = unsaid["years"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (&oldest["year"], &oldest["part_lines"], &oldest["orders"]),
        (&json!(2019), &json!(1), &json!(0))
    );
    assert_eq!(oldest["parts"], json!([{"amount": "5000.00", "currency": "EUR"}]));

    let price = json!({"amount": "4000.00", "currency": "EUR"});
    assert_eq!(tell(Role::Dispatcher, price.clone()).await.assert(200).body["replacement_price"], price);
    let known = costs().await;
    assert_eq!(
        (&known["replacement_price"], &known["share_of_new"], &known["advice"]),
        (&price, &json!(0.3), &json!("look_closer"))
    );

    // Some of it was paid in dollars: said, not added, and no advice that leaves it out.
    let other = past.order(&past.left, "corrective", "01-06 06:00Z", Some("01-06 10:00Z")).await;
    past.line(&other, &past.gasket, "1 USD 900.00", "contract", "fitted", "01-06 09:00Z").await;
    past.write(lately(&other)).await;
    let mixed = costs().await;
    assert_eq!((&mixed["share_of_new"], &mixed["advice"]), (&Value::Null, &Value::Null));
    assert_eq!(
        mixed["last_twelve_months"],
        json!([{"amount": "1200.00", "currency": "EUR"}, {"amount": "900.00", "currency": "USD"}])
    );

    let refused = tell(Role::Manager, json!({"amount": "0.00", "currency": "EUR"})).await;
    refused.assert(422).assert_fault("/replacement_price/amount");
    // Who comes there sees the machine, and what a new one costs is for the office to say.
    send_there(&past.service, &past.pool, &past.site).await;
    tell(Role::Technician, price).await.assert(403);
    ask(Role::Technician).get(&format!("{machine}/costs")).await.assert(403);
    assert_eq!(tell(Role::Manager, Value::Null).await.assert(200).body["replacement_price"], Value::Null);
    assert_eq!(costs().await["replacement_price"], Value::Null);
}

/// By hand: 3 h + 1.5 h on site of two orders of 2026, one visit not ended, and one of 31 December 2025 in the kitchen's zone
/// that is January at UTC.
#[sqlx::test(migrations = "../../migrations")]
async fn visits_count_in_the_year_of_the_kitchen(pool: PgPool) {
    let past = Past::of(pool).await;
    let first = past.order(&past.far, "corrective", "01-05 06:00Z", Some("01-05 10:00Z")).await;
    let second = past.order(&past.far, "corrective", "01-08 06:00Z", None).await;
    // Thirteen hours ahead: 2025-12-31 12:00Z is the first of January there.
    for (order, arrived, left) in [
        (&first, "2025-12-31 09:00Z", "'2025-12-31 10:00Z'"),
        (&first, "2025-12-31 12:00Z", "'2025-12-31 15:00Z'"),
        (&second, "2026-01-08 09:00Z", "'2026-01-08 10:30Z'"),
        (&second, "2026-01-09 09:00Z", "NULL"),
    ] {
        let (id, result) = (past.service.id(), if left == "NULL" { "NULL" } else { "'diagnosed'" });
        past.write(format!(
            "INSERT INTO visit (id, work_order_id, planned_at, arrived_at, left_at, result, body_sha256, created_at)
             VALUES ('{id}', '{order}', '{arrived}', '{arrived}', {left}, {result}, '', '{arrived}')"
        ))
        .await;
    }
    let costs =
        past.service.as_role(Role::Dispatcher).get(&format!("/v1/appliances/{}/costs", past.far)).await;
    let year = |year: i32, orders: i64, hours: f64| json!({"year": year, "orders": orders, "hours_on_site": hours, "part_lines": 0, "parts": []});
    assert_eq!(costs.assert(200).body["years"], json!([year(2026, 2, 4.5), year(2025, 1, 1.0)]));
    assert_eq!((&costs.body["last_twelve_months"], &costs.body["advice"]), (&json!([]), &Value::Null));
}
