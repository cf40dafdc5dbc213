use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::{FAR_NAME, Past};

const PATH: &str = "/v1/reports/parts-usage?as_of=2026-03-01T00:00:00Z";

async fn used(pool: PgPool) -> Past {
    let past = Past::of(pool).await;
    let near = past.order(&past.left, "corrective", "01-02 08:00Z", None).await;
    let far = past.order(&past.far, "corrective", "01-02 08:00Z", None).await;
    past.line(&near, &past.valve, "2 EUR 148.50", "customer", "fitted", "01-31 23:30Z").await;
    past.line(&near, &past.gasket, "3 EUR 20.10", "own_company", "fitted", "01-15 08:00Z").await;
    past.line(&near, &past.gasket, "1 USD 25.00", "contract", "fitted", "01-20 08:00Z").await;
    // In Auckland it was half past one on the morning of 1 February.
    past.line(&far, &past.valve, "1 EUR 150.00", "warranty", "fitted", "01-31 12:30Z").await;
    // Not used.
    past.line(&near, &past.valve, "5 EUR 148.50", "customer", "withdrawn", "").await;
    past.line(&near, &past.valve, "5 EUR 148.50", "customer", "returned_unused", "").await;
    past.line(&near, &past.valve, "5 EUR 148.50", "customer", "defective_returned", "01-10 08:00Z").await;
    past.line(&near, &past.valve, "5 EUR 148.50", "customer", "identified", "").await;
    past.line(&near, &past.valve, "5 EUR 148.50", "customer", "fitted", "03-02 08:00Z").await;
    past
}

/// Month, kitchen, part, currency, n, quantity, amount.
fn rows(report: &Value) -> Vec<(String, String, String, String, u64, u64, String)> {
    let text = |item: &Value, name: &str| item[name].as_str().unwrap_or("-").to_owned();
    let row = |item: &Value| {
        let number = |name: &str| item[name].as_u64().unwrap();
        (
            text(item, "month"),
            text(item, "site_name"),
            text(item, "part_number"),
            text(item, "currency"),
            number("n"),
            number("quantity"),
            text(item, "amount"),
        )
    };
    report["items"].as_array().unwrap().iter().map(row).collect()
}

fn row(
    month: &str,
    site: &str,
    part: &str,
    currency: &str,
    n: u64,
    quantity: u64,
    amount: &str,
) -> (String, String, String, String, u64, u64, String) {
    (month.into(), site.into(), part.into(), currency.into(), n, quantity, amount.into())
}

#[sqlx::test(migrations = "../../migrations")]
async fn usage_is_counted_by_part_kitchen_and_the_kitchens_own_month(pool: PgPool) {
    let past = used(pool).await;
    let ask = async |query: &str| past.service.as_role(Role::Manager).get(&format!("{PATH}{query}")).await;
    let report = ask("").await;
    report.assert(200);
    assert_eq!(
        rows(&report.body),
        [
            // 3 × 20.10, 1 × 25.00, 2 × 148.50, 1 × 150.00
            row("2026-01", "Harbour kitchen", "G-1", "EUR", 1, 3, "60.30"),
            row("2026-01", "Harbour kitchen", "G-1", "USD", 1, 1, "25.00"),
            row("2026-01", "Harbour kitchen", "V-1", "EUR", 1, 2, "297.00"),
            row("2026-02", FAR_NAME, "V-1", "EUR", 1, 1, "150.00"),
        ]
    );
    assert_eq!(report.body["n"], json!(4));
    assert_eq!(
        report.body["left_out"],
        json!({"returned_unused": 1, "defective_returned": 1, "withdrawn": 1, "not_fitted": 2})
    );
    let in_utc = rows(&ask("&time_zone=UTC&group_by=month").await.body);
    assert_eq!(
        in_utc,
        [row("2026-01", "-", "-", "EUR", 3, 6, "507.30"), row("2026-01", "-", "-", "USD", 1, 1, "25.00")]
    );
    let by_part = ask("&group_by=part").await;
    assert_eq!(
        rows(&by_part.body),
        [
            row("-", "-", "G-1", "EUR", 1, 3, "60.30"),
            row("-", "-", "G-1", "USD", 1, 1, "25.00"),
            row("-", "-", "V-1", "EUR", 2, 3, "447.00"),
        ]
    );
    let valve = &by_part.body["items"][2];
    let split = ["paid_by_customer", "paid_by_warranty", "paid_by_contract", "paid_by_own_company"];
    assert_eq!(split.map(|payer| valve[payer].as_str().unwrap()), ["297.00", "150.00", "0.00", "0.00"]);
    assert_eq!(rows(&ask("&from=2026-02-01").await.body).len(), 1, "only Auckland's, by its own calendar");
    assert_eq!(rows(&ask("&to=2026-01-15").await.body).len(), 1, "the last day is included");
    assert_eq!(rows(&ask(&format!("&part_id={}", past.gasket)).await.body).len(), 2);
    assert_eq!(rows(&ask(&format!("&site_id={}", past.far_site)).await.body).len(), 1);
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_csv_is_of_rfc_4180_and_holds_no_formula(pool: PgPool) {
    let past = used(pool).await;
    let ask = || past.service.as_role(Role::Manager);
    let path = format!("{PATH}&from=2026-02-01");
    let csv = ask().header("accept", "text/csv").get(&path).await;
    csv.assert(200);
    assert_eq!(csv.header("content-type"), "text/csv; charset=utf-8; header=present");
    assert!(csv.headers.get_all("vary").iter().any(|vary| vary == "Accept"));
    assert_eq!(
        csv.body.as_str().unwrap(),
        format!(
            "month,site_id,site_name,part_number,part_title,n,quantity,amount,currency,paid_by_customer,\
             paid_by_contract,paid_by_warranty,paid_by_own_company\r\n\
             2026-02,{},\"'=2+5 \"\"south\"\", galley\",V-1,Part of a fill_valve,1,1,150.00,EUR,0.00,0.00,150.00,0.00\r\n",
            past.far_site
        )
    );
    ask().header("accept", "image/png").get(&path).await.assert_problem(406, "not-acceptable");
    let picture = async |path: String| ask().header("accept", "image/svg+xml").get(&path).await;
    let svg = picture(format!("{path}&group_by=month")).await;
    assert!(svg.assert(200).body.as_str().unwrap().contains("2026-02"), "{}", svg.body);
    let timeless = picture(format!("{path}&group_by=part")).await;
    assert!(timeless.assert(400).body.to_string().contains("tells months apart"), "{}", timeless.body);
    let json = ask().header("accept", "text/csv;q=0.2, application/json").get(&path).await;
    assert_eq!(json.header("content-type"), "application/json");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_question_that_makes_no_sense_is_refused(pool: PgPool) {
    let past = Past::of(pool).await;
    let ask = async |query: &str| past.service.as_role(Role::Manager).get(&format!("{PATH}{query}")).await;
    ask("&from=2026-02-02&to=2026-02-01").await.assert_problem(400, "malformed").assert_fault("to");
    ask("&time_zone=Atlantis/Harbour").await.assert_problem(400, "malformed").assert_fault("time_zone");
    let odd = ask("&from=2026-02-30&group_by=colour&part_id=7").await;
    odd.assert_problem(400, "malformed")
        .assert_fault("from")
        .assert_fault("group_by")
        .assert_fault("part_id");
    let empty = ask("").await;
    assert_eq!((&empty.body["n"], &empty.body["items"]), (&json!(0), &json!([])));
    past.service.as_role(Role::Technician).get(PATH).await.assert_problem(403, "wrong-role");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_kitchen_whose_time_zone_was_wrong_takes_its_days_along(pool: PgPool) {
    let past = used(pool.clone()).await;
    let months = async || {
        let path = format!("{PATH}&group_by=month&site_id={}", past.far_site);
        rows(&past.service.as_role(Role::Manager).get(&path).await.body)
            .into_iter()
            .map(|row| row.0)
            .collect::<Vec<_>>()
    };
    assert_eq!(months().await, ["2026-02"]);
    sqlx::raw_sql("UPDATE site SET time_zone = 'Europe/Lisbon'").execute(&pool).await.unwrap();
    assert_eq!(months().await, ["2026-01"]);
    // As a program left it that wrote past the triggers.
    sqlx::raw_sql("ALTER TABLE part_line DISABLE TRIGGER ALL; UPDATE part_line SET fitted_on = fitted_on - 40; ALTER TABLE part_line ENABLE TRIGGER ALL")
        .execute(&pool)
        .await
        .unwrap();
    assert_eq!(months().await, ["2025-12"]);
    let application = &past.service.application;
    let broken = async || {
        let checked = store::check::all(application.database(), &mut |_| ()).await.unwrap();
        checked
            .into_iter()
            .filter(|checked| checked.broken > 0 && checked.rule.contains("was fitted on"))
            .count()
    };
    assert_eq!(broken().await, 1);
    application::mend::mend(application).await.unwrap();
    assert_eq!(broken().await, 0);
    assert_eq!(months().await, ["2026-01"]);
}
