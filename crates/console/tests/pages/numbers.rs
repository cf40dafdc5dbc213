//! The pages of numbers: the answer in words, the chart beside the table of its values, what was left out.

use domain::role::Role;
use sqlx::PgPool;

use crate::house::House;

const MANAGER: Option<Role> = Some(Role::Manager);

/// Sixteen gaskets that failed at 155, 160 … 230 days and eight that still work after 90.
const WORN: &str = "
    INSERT INTO part (id, number, title, unit_price, currency, body_sha256, created_at)
    VALUES ('01890a5d-ac96-774b-bcce-b302099a8057', 'gasket-9', 'Gasket & lip', 10, 'EUR', '', '2025-01-01');
    INSERT INTO appliance (id, site_id, model_key, model_version, position_label, state, body_sha256, created_at)
    SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, site_id, model_key, model_version, 'left ' || n, 'up', '',
        '2025-01-01' FROM appliance, generate_series(1, 24) n;
    INSERT INTO fitted_part (id, appliance_id, position, part_id, fitted_at, removed_at)
    SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, id, 'door_gasket', '01890a5d-ac96-774b-bcce-b302099a8057',
        CASE WHEN n > 16 THEN '2026-01-22 09:00Z' ELSE '2025-02-01 09:00Z' END::timestamptz,
        CASE WHEN n <= 16 THEN '2025-02-01 09:00Z'::timestamptz + (150 + 5 * n) * interval '1 day' END
    FROM (SELECT id, substr(position_label, 6)::integer AS n FROM appliance WHERE position_label LIKE 'left %') machine;
    INSERT INTO work_order (id, site_id, appliance_id, kind, urgency, state, received_at, body_sha256, created_at)
    SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, a.site_id, a.id, 'corrective', 'degraded', 'received',
        f.removed_at, '', f.removed_at FROM fitted_part f JOIN appliance a ON a.id = f.appliance_id WHERE removed_at IS NOT NULL;
    INSERT INTO finding (id, work_order_id, appliance_id, position, finding, failure_mode, evidence, confirmed_by, found_at,
        body_sha256, created_at)
    SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, o.id, o.appliance_id, 'door_gasket', 'failed', 'worn', 'seen',
        (SELECT id FROM person LIMIT 1), o.received_at, '', o.received_at FROM work_order o";

#[sqlx::test(migrations = "../../migrations")]
async fn the_life_of_a_part_is_said_drawn_and_listed(pool: PgPool) {
    let house = House::over(pool.clone()).await;
    let path = "/numbers/part-life?position=door_gasket&planned_cost=60&unplanned_cost=340,50";
    house.get(MANAGER, path).await.assert(200).assert_says("No part has been fitted there");
    sqlx::raw_sql(WORN).execute(&pool).await.unwrap();
    let page = house
        .get(MANAGER, path)
        .await
        .assert(200)
        .assert_says("Gasket &#38; lip: half have failed by 190 days")
        .assert_says("16 of 24 seen to fail")
        .assert_says("After 230 days a place has had 1.0 failures on average (")
        .assert_says("from wear (shape")
        .assert_says("a year instead of")
        .assert_says(r#"<svg xmlns="http://www.w3.org/2000/svg" class="chart""#)
        .assert_says(r#"<th scope="row">180</th>"#);
    assert!(!page.body.contains("style=") && !page.body.contains("<style"), "{}", page.body);
    let by_water =
        house.get(MANAGER, "/numbers/part-life?position=door_gasket&by=hardness").await.assert(200);
    by_water.assert_says("Water not read").assert_says("Too few have failed to say what hardness does here");
}

#[sqlx::test(migrations = "../../migrations")]
async fn machines_that_drift_are_listed_with_a_planned_look(pool: PgPool) {
    let house = House::over(pool.clone()).await;
    house.get(MANAGER, "/numbers/early-warnings").await.assert(200).assert_says("have been looked at yet");
    let drift = r#"[{"of": {"procedure": "fill_time", "step": "fill_time"}, "position": "fill_valve", "quantity": "duration",
        "since": "2026-03-02T10:00:00Z", "rises": true, "n": 14, "usual": 71, "last": 95.5, "last_at": "2026-04-20T10:00:00Z"}]"#;
    #[expect(clippy::disallowed_methods, reason = "what a watch left, without its hours of readings")]
    let watched = sqlx::query("INSERT INTO drift_watch (appliance_id, looked_until, drifts) SELECT id, '2026-04-20T10:00:00Z', $1::jsonb FROM appliance")
        .bind(drift)
        .execute(&pool)
        .await;
    watched.unwrap();
    let page = house.get(MANAGER, "/numbers/early-warnings").await.assert(200);
    let page = page
        .assert_says("1 of 1 machines drifts")
        .assert_says("rises: usually 71 s, last 95.5 s")
        .assert_says("2 Mar");
    let look = page
        .body
        .split("href=\"/calls/new?")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .replace("&amp;", "&");
    let look = look.replace("&#38;", "&");
    let call = house.get(MANAGER, &format!("/calls/new?{look}")).await.assert(200);
    call.assert_says("rises: usually 71 s, last 95.5 s")
        .assert_says(&format!("value=\"{}\" selected", house.appliance));
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_is_typed_wrongly_is_said(pool: PgPool) {
    let house = House::over(pool).await;
    house.get(MANAGER, "/numbers/part-life").await.assert(200).assert_says("Choose a position");
    for (query, says) in [
        ("position=oven", "There is no such position"),
        ("position=rinse&from=2026-03-02&to=2026-03-01", "must not be earlier"),
        ("position=rinse&from=2026-13-02", "A day is written like"),
        ("position=rinse&from=2027-01-01", "one that has begun"),
        ("position=rinse&planned_cost=60", "Say both costs"),
        ("position=rinse&planned_cost=0&unplanned_cost=5", "above nought"),
        ("part=7", "no such part"),
    ] {
        house.get(MANAGER, &format!("/numbers/part-life?{query}")).await.assert(400).assert_says(says);
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_kitchens_water_leads_to_what_hardness_does_to_its_parts(pool: PgPool) {
    let house = House::over(pool.clone()).await;
    sqlx::raw_sql(WORN).execute(&pool).await.unwrap();
    let kitchen = format!("/kitchens/{}", house.site);
    let link = "href=\"/numbers/part-life?position=door_gasket&amp;by=hardness\"";
    let is_there =
        async || house.get(MANAGER, &kitchen).await.assert(200).body.replace("&#38;", "&amp;").contains(link);
    assert!(!is_there().await, "nobody has read its water");
    let read = "INSERT INTO site_water (id, site_id, taken_at, payload, body_sha256, created_at)
        SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, id, '2026-01-05', '{\"sample\": {\"sample_point\":
            \"after_treatment\", \"treatment\": \"softener\", \"hardness_mmol_per_l\": 3.1}, \"as_read\": {}}', '', '2026-01-05'
        FROM site";
    sqlx::raw_sql(read).execute(&pool).await.unwrap();
    assert!(is_there().await);
    let page = house.get(MANAGER, "/numbers/part-life?position=door_gasket&by=hardness").await.assert(200);
    page.assert_says("Hard water, above 2.5 mmol/L");
}
