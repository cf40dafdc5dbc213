use domain::role::Role;
use sqlx::PgPool;

use crate::house::House;

/// Two orders of the machine: 3 h on site and 2400 EUR of parts this year, 1 h and 80 EUR two years before.
const REPAIRED: &str = "
    INSERT INTO part (id, number, title, unit_price, currency, body_sha256, created_at)
    VALUES ('01890a5d-ac96-774b-bcce-b302099a8057', 'P-1', 'Wash pump', 10, 'EUR', '', '2023-01-01');
    INSERT INTO work_order (id, site_id, appliance_id, kind, urgency, state, received_at, body_sha256, created_at)
    SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, site_id, id, 'corrective', 'degraded', 'received', day, '', day
    FROM appliance, unnest('{2024-03-04 08:00Z, 2026-03-02 08:00Z}'::timestamptz[]) day;
    INSERT INTO visit (id, work_order_id, planned_at, arrived_at, left_at, result, body_sha256, created_at)
    SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, id, received_at, received_at,
        received_at + CASE WHEN received_at < '2025-01-01' THEN 1 ELSE 3 END * interval '1 hour', 'repaired', '', received_at
    FROM work_order;
    INSERT INTO part_line (id, work_order_id, part_id, position, quantity, state, payer, unit_price, currency, fitted_at,
        body_sha256, created_at)
    SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, id, '01890a5d-ac96-774b-bcce-b302099a8057', 'wash_pump', 2,
        'fitted', 'customer', CASE WHEN received_at < '2025-01-01' THEN 40 ELSE 1200 END, 'EUR', received_at, '', received_at
    FROM work_order";

#[sqlx::test(migrations = "../../migrations")]
async fn what_a_new_machine_costs_is_told_on_its_page(pool: PgPool) {
    let house = House::over(pool.clone()).await;
    let path = format!("/machines/{}", house.appliance);
    let to = format!("{path}/replacement-price");
    let dispatcher = Some(Role::Dispatcher);
    let page =
        house.get(dispatcher, &path).await.assert(200).assert_says("What a new one costs, nobody has said");
    let version = page.hidden(&to, "version");
    let tell = async |amount: &str, currency: &str, version: &str| {
        let fields = [("version", version), ("amount", amount), ("currency", currency)];
        house.post(dispatcher, &to, &fields).await
    };
    // What was typed stands there again with what would be right.
    for (amount, currency, says) in [
        ("0", "EUR", "An amount is more than nothing"),
        ("9800.005", "EUR", "An amount is more than nothing"),
        ("9800", "euro", "A currency is written in three letters"),
    ] {
        let refused = tell(amount, currency, &version).await.assert(409);
        refused.assert_says(says).assert_says(&format!("value=\"{amount}\""));
    }
    let told = tell("8000,00", "eur", &version).await.assert(303);
    assert_eq!(told.header("location"), format!("{path}#costs"));
    house
        .get(dispatcher, &path)
        .await
        .assert(200)
        .assert_says("none, 0 % of a new one at 8000.00 EUR: repair.");
    sqlx::raw_sql(REPAIRED).execute(&pool).await.unwrap();
    let page = house.get(dispatcher, &path).await.assert(200);
    let page = page.assert_says("2400.00 EUR, 30 % of a new one at 8000.00 EUR: look at what comes back");
    let page = page
        .assert_says("<th scope=\"row\">2026</th>")
        .assert_says("<th scope=\"row\">2024</th>")
        .assert_says("80.00 EUR");

    tell("1", "EUR", &version).await.assert(409).assert_says("Somebody changed this while you looked at it");
    tell("", "", &page.hidden(&to, "version")).await.assert(303);
    house
        .get(dispatcher, &path)
        .await
        .assert(200)
        .assert_says("nobody has said")
        .assert_says("value=\"EUR\"");
    house
        .post(Some(Role::Technician), &to, &[("version", "1"), ("amount", "1"), ("currency", "EUR")])
        .await
        .assert(403);
}
