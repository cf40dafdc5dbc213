//! What `check` calls broken, an act mends, or the operator's command.

use serde_json::json;
use sqlx::PgPool;

use crate::company::{self, Company, DISPATCHER, id};
use crate::work::{call, order};

/// As an older version of the service left it.
#[sqlx::test(migrations = "../../migrations")]
async fn what_follows_from_other_rows_is_mended_and_told(pool: PgPool) {
    let company = Company::over(pool.clone()).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    let stranger = json!({"id": id(50), "name": "Another customer"});
    company.post("/v1/customers", DISPATCHER, stranger).await.expect(201);
    let contact = json!({"id": id(51), "customer_id": id(50), "name": "A stranger"});
    company.post("/v1/contacts", DISPATCHER, contact).await.expect(201);
    assert_eq!(company.broken().await, []);
    let poison = sqlx::AssertSqlSafe(format!(
        "INSERT INTO quote (id, work_order_id, number, lines, total, currency, made_by, made_at, body_sha256)
             VALUES ('{quote}', '{order}', 1, '[]', 0, 'EUR', '{person}', now(), '');
         INSERT INTO approval (id, work_order_id, quote_id, contact_id, decision, decided_at, recorded_by, body_sha256,
             created_at) VALUES ('{approval}', '{order}', '{quote}', '{stranger}', 'approved', now(), '{person}', '', now());
         INSERT INTO waiting (id, work_order_id, reason, from_at, pauses_clock, body_sha256, created_at)
             VALUES ('{waiting}', '{order}', 'access', '2026-03-02T08:30:00Z', true, '', now());
         UPDATE work_order SET state = 'cancelled', outcome = 'cancelled', closed_at = received_at + interval '1 hour',
             signed_off_by = '{stranger}' WHERE id = '{order}'",
        quote = id(60),
        order = id(2),
        person = company::person(DISPATCHER),
        approval = id(61),
        stranger = id(51),
        waiting = id(62),
    ));
    sqlx::raw_sql(poison).execute(&pool).await.unwrap();
    let found = company.broken().await;
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found.iter().all(|(_, way_out)| way_out.contains("check --mend")), "{found:?}");
    assert_eq!(application::mend::mend(company.application()).await.unwrap(), 3);
    assert_eq!(company.broken().await, [], "and what was done is in feed and audit");
    assert_eq!(application::mend::mend(company.application()).await.unwrap(), 0);
    let mended = company.get(&order(), DISPATCHER).await.expect(200).body;
    assert_eq!(mended["signed_off_by"], json!(null));
    let refused = sqlx::raw_sql("UPDATE approval SET contact_id = NULL").execute(&pool).await;
    assert!(refused.is_err(), "approvals are kept as they came again");
}
