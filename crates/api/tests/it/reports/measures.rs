use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::Past;

const YEAR: &str = "from=2026-01-01&to=2026-03-31&as_of=2026-05-01T00:00:00Z";

fn of<'a>(report: &'a Value, measure: &str) -> &'a Value {
    let measures = report["measures"].as_array().unwrap();
    measures.iter().find(|item| item["measure"] == json!(measure)).unwrap_or_else(|| panic!("{measure}"))
}

impl Past {
    /// That somebody was there, from an hour of a day in 2026 to the next.
    async fn visited(&self, order: &str, day: &str, hour: u32, who: Role) {
        let (id, person) = (self.service.id(), self.service.people[&who]);
        self.write(format!(
            "INSERT INTO visit (id, work_order_id, planned_at, arrived_at, left_at, result, body_sha256, created_at)
             VALUES ('{id}', '{order}', '2026-{day} 06:00Z', '2026-{day} {hour:02}:00Z', '2026-{day} {:02}:00Z', 'repaired', '', '2026-{day}');
             INSERT INTO visit_person (visit_id, person_id) VALUES ('{id}', '{person}')",
            hour + 1
        ))
        .await;
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_measure_says_what_it_is_made_of(pool: PgPool) {
    let past = Past::of(pool.clone()).await;
    // Mended at the first visit; mended, and the same position again; open; planned; the second too late to tell in March.
    let first = past.order(&past.left, "corrective", "01-05 06:00Z", Some("01-05 08:30Z")).await;
    past.failed(&first, "fill_valve", "slow", "01-05 08:00Z").await;
    past.visited(&first, "01-05", 8, Role::Technician).await;
    let second = past.order(&past.right, "corrective", "02-05 06:00Z", Some("02-05 10:30Z")).await;
    past.failed(&second, "wash_pump", "operates_weakly", "02-05 10:00Z").await;
    past.visited(&second, "02-05", 10, Role::Technician).await;
    let back = past.order(&past.right, "corrective", "02-15 06:00Z", None).await;
    past.failed(&back, "wash_pump", "operates_weakly", "02-15 10:00Z").await;
    past.order(&past.far, "planned", "02-20 06:00Z", Some("02-20 10:00Z")).await;
    let ask = |role: Role| past.service.as_role(role);

    let report = ask(Role::Dispatcher).get(&format!("/v1/reports/measures?{YEAR}&by=model")).await;
    report.assert(200);
    let mended = of(&report.body, "mended_at_first_visit");
    let share = &mended["all"]["share"];
    assert_eq!(
        (&share["numerator"], &share["denominator"], &share["value"]),
        (&json!(1), &json!(2), &json!(0.5))
    );
    // One of two: 1 − √0.975 below, √0.975 above.
    assert!((share["lower"].as_f64().unwrap() - (1.0 - 0.975_f64.sqrt())).abs() < 1e-9, "{share}");
    assert!((share["upper"].as_f64().unwrap() - 0.975_f64.sqrt()).abs() < 1e-9, "{share}");
    let group = &mended["groups"][0];
    assert_eq!(
        (&group["group"], &group["is_ranked"]),
        (&json!("demo_combi"), &json!(false)),
        "two are too few"
    );
    assert_eq!(
        mended["all"]["year_before"]["share"]["value"],
        Value::Null,
        "there was nothing: no figure, and not 0"
    );
    assert_eq!(mended["all"]["year_before"]["chance"], Value::Null);
    let came_back = of(&report.body, "came_back");
    assert_eq!(
        (&came_back["all"]["share"]["numerator"], &came_back["all"]["share"]["denominator"]),
        (&json!(1), &json!(2))
    );
    assert_eq!(came_back["all"]["left_out"], json!([{"why": "not_corrective", "orders": 1}]));
    let response = &of(&report.body, "response")["all"]["duration"];
    assert_eq!((&response["n"], &response["open"]), (&json!(3), &json!(1)));
    assert_eq!(response["median"]["hours"], json!(4.0), "2 and 4 hours, and one that nobody has come to");
    assert_eq!(response["nine_tenths"], Value::Null);

    // As it was known when the first had not thirty days behind it.
    let early = ask(Role::Dispatcher)
        .get("/v1/reports/measures?from=2026-01-01&to=2026-01-31&as_of=2026-02-03T00:00:00Z")
        .await;
    let early = &of(&early.assert(200).body, "mended_at_first_visit")["all"];
    assert_eq!((&early["immature"], &early["share"]["denominator"]), (&json!(1), &json!(0)));

    let by_person = format!("/v1/reports/measures?{YEAR}&by=person");
    ask(Role::Dispatcher).get(&by_person).await.assert(403);
    let people = ask(Role::Manager).get(&by_person).await;
    let group = &of(&people.assert(200).body, "mended_at_first_visit")["groups"][0];
    assert_eq!(group["group"], json!(past.service.people[&Role::Technician].to_string()));
    let repairs = ask(Role::Manager).get(&format!("/v1/reports/measures?{YEAR}&by=repair&days=90")).await;
    assert_eq!(repairs.assert(200).body["measures"].as_array().unwrap().len(), 4);

    let csv = ask(Role::Manager)
        .header("accept", "text/csv")
        .get(&format!("/v1/reports/measures?{YEAR}&by=month"))
        .await;
    let text = csv.assert(200).body.as_str().unwrap();
    assert!(text.starts_with("measure,group,group_name,too_few,numerator,denominator,"), "{text}");
    assert!(text.contains("mended_at_first_visit,2026-01,2026-01,too_few,1,1,1,"), "{text}");
    let svg = ask(Role::Manager)
        .header("accept", "image/svg+xml")
        .get(&format!("/v1/reports/measures?{YEAR}"))
        .await;
    let svg = svg.assert(200).body.as_str().unwrap();
    assert!(svg.starts_with("<svg ") && svg.contains("Mended at the first visit, 30 days"), "{svg}");
    assert!(!svg.contains("From call to arrival"), "how long things last has another axis: {svg}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn measures_that_make_no_sense_are_refused_with_what_would(pool: PgPool) {
    let past = Past::of(pool).await;
    let ask = |role: Role| past.service.as_role(role);
    for (asked, says) in [
        ("days=14", "7, 30 or 90"),
        ("by=street", "branch"),
        ("from=2026-02-02&to=2026-02-01", "earlier than from"),
        ("from=2026-02-30", "from"),
        ("from=1999-01-01", "ten years"),
        ("as_of=2199-01-01T00:00:00Z", "later than now"),
        ("window=0", "window"),
    ] {
        let answer = ask(Role::Dispatcher).get(&format!("/v1/reports/measures?{asked}")).await;
        answer.assert(400);
        assert!(answer.body.to_string().contains(says), "{asked}: {}", answer.body);
    }
    ask(Role::Technician).get("/v1/reports/measures").await.assert(403);
    ask(Role::Manager).header("accept", "image/png").get("/v1/reports/measures").await.assert(406);
    // A month in which clocks are set on has all its days.
    let march = ask(Role::Manager).get("/v1/reports/measures?from=2026-03-01&to=2026-03-31&by=month").await;
    march.assert(200);
    assert_eq!(march.body["year_before"], json!({"from": "2025-03-01", "to": "2025-03-31"}));
    let long = ask(Role::Manager).get("/v1/reports/measures?from=2020-01-01&to=2025-12-31").await;
    assert_eq!(long.assert(200).body["year_before"], Value::Null, "they would be partly the same days");
}
