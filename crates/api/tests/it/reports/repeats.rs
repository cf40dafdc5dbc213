use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::Past;

/// The machines are known from before the year, so that they are watched in all of it.
async fn known_since_before(past: &Past) {
    past.write("UPDATE appliance SET created_at = '2025-01-01'".to_owned()).await;
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_kitchen_is_set_against_what_the_others_had(pool: PgPool) {
    let past = Past::of(pool.clone()).await;
    known_since_before(&past).await;
    // Two machines here, one there, of one model; 50 days, from 1 January to 19 February.
    for (day, restored) in [("01-05", "01-06"), ("01-15", "01-16"), ("01-25", "01-26")] {
        let order = past
            .order(&past.left, "corrective", &format!("{day} 00:00Z"), Some(&format!("{restored} 00:00Z")))
            .await;
        past.failed(&order, "fill_valve", "slow", &format!("{day} 10:00Z")).await;
        // A second fault of the same position in one order is the same failure.
        past.failed(&order, "fill_valve", "leaks_inside", &format!("{day} 11:00Z")).await;
    }
    let far = past.order(&past.far, "corrective", "01-10 00:00Z", Some("01-20 00:00Z")).await;
    past.failed(&far, "fill_valve", "slow", "01-10 10:00Z").await;
    // Not restored, and reported again: it continues. Then planned work, and one after the window.
    let open = past.order(&past.right, "corrective", "02-01 00:00Z", None).await;
    past.failed(&open, "wash_pump", "operates_weakly", "02-01 10:00Z").await;
    let again = past.order(&past.right, "corrective", "02-10 00:00Z", None).await;
    past.failed(&again, "wash_pump", "operates_weakly", "02-10 10:00Z").await;
    let planned = past.order(&past.left, "planned", "02-05 00:00Z", Some("02-05 12:00Z")).await;
    past.failed(&planned, "door_gasket", "worn", "02-05 10:00Z").await;
    let late = past.order(&past.left, "corrective", "02-20 00:00Z", None).await;
    past.failed(&late, "fill_valve", "slow", "02-20 10:00Z").await;

    let ask = || past.service.as_role(Role::Dispatcher);
    let window = "from=2026-01-01&to=2026-02-19";
    let report = ask().get(&format!("/v1/sites/{}/repeats?{window}", past.site)).await;
    report.assert(200);
    let positions = report.body["by_position"].as_array().unwrap();
    let of = |position: &str| {
        let found = positions.iter().find(|found| found["position"] == json!(position));
        &found.unwrap_or_else(|| panic!("{position}: {positions:?}"))["against_fleet"]
    };
    // The other kitchen had one failure in 50 days less the ten in which it had failed; here 100 days less three.
    let valve = of("fill_valve");
    assert_eq!(valve["n"], json!(3));
    assert!((number(&valve["expected"]) - 97.0 / 40.0).abs() < 1e-9, "{valve}");
    assert_eq!(valve["says"], json!("within"));
    // P(N ≥ 3 | 2.425), by the Poisson distribution's first three terms.
    let mean: f64 = 97.0 / 40.0;
    let tail = 1.0 - (-mean).exp() * (1.0 + mean + mean * mean / 2.0);
    assert!((number(&valve["chance"]) - tail).abs() < 1e-9, "{valve}");
    let pump = of("wash_pump");
    assert_eq!((&pump["n"], &pump["expected"]), (&json!(1), &json!(0.0)), "nobody else's pump failed");
    assert_eq!((&pump["says"], &pump["rate"]), (&json!("too_little_to_tell"), &Value::Null));
    assert_eq!((&report.body["whole"]["n"], &report.body["trend"]["n"]), (&json!(4), &json!(4)));

    let fleet = ask().get(&format!("/v1/reports/repeats?{window}&by=kitchen_position")).await;
    fleet.assert(200);
    assert_eq!((&fleet.body["failures"], &fleet.body["left_out"]["continued"]), (&json!(5), &json!(1)));
    assert_eq!(fleet.body["items"], json!([]), "two kitchens are no fleet that anything stands out of");
    ask().get(&format!("/v1/reports/repeats?{window}")).await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_kitchen_that_fails_often_among_many_is_listed(pool: PgPool) {
    let past = Past::of(pool.clone()).await;
    // (Identifiers are of version 7.) Thirty kitchens with a machine each, known since before; four failures a year in each, sixteen in one.
    past.write(
        "INSERT INTO site (id, customer_id, name, place, time_zone, body_sha256, created_at)
         SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, customer_id, 'Galley ' || n, place, time_zone, '', '2025-01-01'
         FROM site, generate_series(1, 30) n WHERE name NOT LIKE '=%';
         INSERT INTO appliance (id, site_id, model_key, model_version, position_label, state, body_sha256, created_at)
         SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, site.id, 'demo_combi', 1, 'left', 'up', '', '2025-01-01' FROM site
         WHERE name LIKE 'Galley %';
         INSERT INTO work_order (id, site_id, appliance_id, kind, urgency, state, outcome, restored_at, closed_at, received_at,
             body_sha256, created_at)
         SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, a.site_id, a.id, 'corrective', 'degraded', 'closed', 'repaired', at + interval '1 day',
             at + interval '1 day', at, '', at
         FROM appliance a JOIN site ON site.id = a.site_id,
             LATERAL (SELECT '2025-03-01'::timestamptz + n * interval '20 days' AS at
                      FROM generate_series(1, CASE WHEN site.name = 'Galley 7' THEN 16 ELSE 4 END) n) each
         WHERE site.name LIKE 'Galley %'"
            .to_owned(),
    )
    .await;
    let person = past.service.people[&Role::Dispatcher];
    past.write(format!(
        "INSERT INTO finding (id, work_order_id, appliance_id, position, finding, failure_mode, evidence, confirmed_by,
             found_at, body_sha256, created_at)
         SELECT overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, id, appliance_id, 'drain_pump', 'failed', 'operates_weakly', 'seen', '{person}', received_at, '',
             received_at FROM work_order"
    ))
    .await;
    let ask = || past.service.as_role(Role::Manager);
    let fleet = ask().get("/v1/reports/repeats?from=2025-02-01&to=2026-01-31").await;
    fleet.assert(200);
    let items = fleet.body["items"].as_array().unwrap();
    assert_eq!(items.len(), 1, "{items:?}");
    assert_eq!((&items[0]["site_name"], &items[0]["position"]), (&json!("Galley 7"), &Value::Null));
    let against = &items[0]["against_fleet"];
    assert_eq!((&against["n"], &against["says"]), (&json!(16), &json!("beyond")));
    assert!(number(&against["q"]) < 0.01 && number(&against["rate"]["exceeds_twice"]) > 0.9, "{against}");
    let as_file = async |kind: &'static str| {
        ask().header("accept", kind).get("/v1/reports/repeats?from=2025-02-01&to=2026-01-31").await
    };
    let csv = as_file("text/csv").await;
    let lines: Vec<&str> = csv.assert(200).body.as_str().unwrap().lines().collect();
    assert_eq!(lines.len(), 1 + items.len(), "{lines:?}");
    assert!(lines[0].starts_with("site_id,site_name,customer_name,position,n,expected,chance,q,rate,"));
    let svg = as_file("image/svg+xml").await;
    assert!(svg.assert(200).body.as_str().unwrap().starts_with("<svg "), "{}", svg.body);
    as_file("image/png").await.assert(406);
    let by = ask().get("/v1/reports/repeats?from=2025-02-01&to=2026-01-31&by=kitchen_position").await;
    assert_eq!(by.body["items"][0]["position"], json!("drain_pump"));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_machine_counts_where_it_stands_while_it_stands_there(pool: PgPool) {
    let past = Past::of(pool.clone()).await;
    known_since_before(&past).await;
    for (machine, day) in [(&past.left, "01-05"), (&past.far, "01-05"), (&past.far, "02-05")] {
        let at = format!("{day} 00:00Z");
        let order = past.order(machine, "corrective", &at, Some(&format!("{day} 12:00Z"))).await;
        past.failed(&order, "heater", "operates_weakly", &at).await;
    }
    // The left machine moved away on 31 January and its failure here is of no kitchen's time.
    past.write(format!(
        "UPDATE appliance SET site_id = '{}' WHERE id = '{}';
         INSERT INTO audit (at, id, use_case, subject, changed_fields, request_id)
         VALUES ('2026-01-31', overlay(gen_random_uuid()::text PLACING '7' FROM 15)::uuid, 'update_appliance', '{}', '{{site_id}}', '')",
        past.far_site, past.left, past.left
    ))
    .await;
    let report =
        past.service.as_role(Role::Manager).get("/v1/reports/repeats?from=2026-01-01&to=2026-02-19").await;
    report.assert(200);
    assert_eq!((&report.body["failures"], &report.body["left_out"]["not_watched"]), (&json!(2), &json!(1)));
}

#[sqlx::test(migrations = "../../migrations")]
async fn windows_that_make_no_sense_and_callers_without_right_are_refused(pool: PgPool) {
    let past = Past::of(pool.clone()).await;
    let ask = || past.service.as_role(Role::Dispatcher);
    for window in
        ["from=2026-02-02&to=2026-02-01", "from=9999-01-01", "from=1999-01-01", "from=x", "by=street"]
    {
        let answer = ask().get(&format!("/v1/reports/repeats?{window}")).await;
        answer.assert(400);
    }
    ask().get(&format!("/v1/sites/{}/repeats", past.service.id())).await.assert(404);
    let nothing = ask().get(&format!("/v1/sites/{}/repeats", past.site)).await;
    nothing.assert(200);
    assert_eq!((&nothing.body["whole"], &nothing.body["by_position"]), (&Value::Null, &json!([])));
    past.service.as_role(Role::Technician).get("/v1/reports/repeats").await.assert(403);
}
