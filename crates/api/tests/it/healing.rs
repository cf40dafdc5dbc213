//! No stored value that cannot be read: what is there already is healed, what comes is bound, what is broken all the same is
//! left out.

use serde_json::json;
use sqlx::PgPool;
use sqlx::migrate::Migrator;
use store::database::Schema;

use crate::company::{self, Company, TECHNICIAN, id};
use crate::work::{on_site, order};

static MIGRATIONS: Migrator = sqlx::migrate!("../../migrations");
/// The migration that heals.
const HEALS: i64 = 25;

fn run(n: u32, value: f64) -> serde_json::Value {
    json!({
        "id": id(n), "appliance_id": company::appliance(), "work_order_id": id(2),
        "procedure": {"key": "fill_time", "version": 1}, "phase": "before_repair", "device_id": "phone", "sequence": n,
        "taken_at": "2026-03-02T10:04:00Z", "conditions": {"confirmed": ["sump_empty"]},
        "readings": [{"step": "fill_time", "value": {"value": value, "unit": "s"}}],
    })
}

async fn send(company: &Company, n: u32) {
    let body = json!({"runs": [run(n, 12.7)]});
    let answered = company.post("/v1/test-runs", TECHNICIAN, body).await.expect(200);
    assert_eq!(answered.body["items"][0]["status"], "created", "{:#}", answered.body);
}

async fn reads_all(company: &Company) {
    for path in ["", "/test-runs", "/verdicts", "/findings"] {
        company.get(&format!("{}{path}", order()), TECHNICIAN).await.expect(200);
    }
    for path in ["", "/history", "/positions"] {
        company.get(&format!("/v1/appliances/{}{path}", company::appliance()), TECHNICIAN).await.expect(200);
    }
}

/// As the store stood before times had a range: a clock of 2090 made a corrected time before 1970, and 1e308 s was kept.
#[sqlx::test(migrations = false)]
async fn rows_that_no_reader_could_read_are_healed(pool: PgPool) {
    let before: Vec<_> = MIGRATIONS.iter().filter(|migration| migration.version < HEALS).cloned().collect();
    Migrator::with_migrations(before).run(&pool).await.unwrap();
    let poison = "INSERT INTO customer (id, name, body_sha256, created_at) VALUES ('01890a5d-ac96-774b-8000-0000000000f1', 'K', '', now());
        INSERT INTO site (id, customer_id, name, place, time_zone, body_sha256, created_at) VALUES
            ('01890a5d-ac96-774b-8000-0000000000f2', '01890a5d-ac96-774b-8000-0000000000f1', 'K', 'Q', 'UTC', '', now());
        INSERT INTO person (id, name, role, body_sha256, created_at) VALUES
            ('01890a5d-ac96-774b-8000-0000000000f3', 'T', 'technician', '', now());
        INSERT INTO model (key, version, payload, body_sha256, created_at) VALUES ('m', 1, '{}', '', now());
        INSERT INTO procedure (key, version, payload, body_sha256, created_at) VALUES ('p', 1, '{}', '', now());
        INSERT INTO appliance (id, site_id, model_key, model_version, position_label, state, body_sha256, created_at) VALUES
            ('01890a5d-ac96-774b-8000-0000000000f4', '01890a5d-ac96-774b-8000-0000000000f2', 'm', 1, 'left', 'up', '', now());
        INSERT INTO test_run (id, appliance_id, procedure_key, procedure_version, phase, device_id, sequence, taken_at,
            clock_correction, received_at, taken_by, payload, body_sha256)
        SELECT ('01890a5d-ac96-774b-8000-00000000010' || n)::uuid, '01890a5d-ac96-774b-8000-0000000000f4', 'p', 1, 'baseline',
            'phone', n, taken_at, correction, '2026-03-02T10:05:00Z', '01890a5d-ac96-774b-8000-0000000000f3', '{}', ''
        FROM (VALUES (1, '2026-03-02T10:04:00Z'::timestamptz, -2014000000000000), (2, '9999-01-01T00:00:00Z', 0),
            (3, '2090-01-01T00:00:00Z', 9000000000000000), (4, '2026-03-02T10:04:00Z', 60000000)) AS r (n, taken_at, correction);
        INSERT INTO reading (test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value)
        VALUES ('01890a5d-ac96-774b-8000-000000000104', 'fill_time', 'duration', '1e308', 1e308, 's', 1e308)";
    sqlx::raw_sql(poison).execute(&pool).await.unwrap();
    MIGRATIONS.run(&pool).await.unwrap();
    let rows = sqlx::query!(
        r#"SELECT sequence, supersedes_id IS NOT NULL AS "takes_back!",
               (taken_at + make_interval(secs => clock_correction / 1e6))::text AS "corrected!"
           FROM test_run ORDER BY sequence, supersedes_id NULLS FIRST"#
    )
    .fetch_all(&pool)
    .await
    .unwrap();
    let healed: Vec<_> =
        rows.iter().map(|row| (row.sequence, row.takes_back, row.corrected.as_str())).collect();
    assert_eq!(
        healed,
        [
            (1, false, "2026-03-02 10:04:00+00"),
            (2, false, "2026-03-02 10:05:00+00"),
            (3, false, "2026-03-02 10:05:00+00"),
            (4, false, "2026-03-02 10:05:00+00"),
            (4, true, "2026-03-02 10:05:00+00"),
        ]
    );
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_schema_binds_what_comes_whoever_writes(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    send(&company, 20).await;
    for statement in [
        "INSERT INTO test_run SELECT new_uuid_v7(), appliance_id, work_order_id, visit_id, procedure_key, procedure_version,
             phase, device_id, sequence, taken_at, -9000000000000000, received_at, taken_by FROM test_run",
        "INSERT INTO reading (test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value)
             SELECT id, 'other', 'duration', 'x', 1e300, 's', 1e300 FROM test_run",
        "UPDATE visit SET planned_at = '9999-01-01Z'",
        "UPDATE call SET words = repeat('x', 4001)",
    ] {
        assert!(sqlx::raw_sql(statement).execute(&company.pool).await.is_err(), "{statement}");
    }
}

/// A table or column that a migration adds must call keep_in_range().
#[sqlx::test(migrations = "../../migrations")]
async fn every_time_day_and_text_of_the_schema_has_a_range(pool: PgPool) {
    let made = "SELECT keep_in_range()";
    let count = r"SELECT count(*) FROM pg_constraint WHERE conname LIKE '%\_range'";
    let before: i64 = sqlx::Row::get(&sqlx::raw_sql(count).fetch_one(&pool).await.unwrap(), 0);
    sqlx::raw_sql(made).execute(&pool).await.unwrap();
    let after: i64 = sqlx::Row::get(&sqlx::raw_sql(count).fetch_one(&pool).await.unwrap(), 0);
    assert_eq!(before, after, "a column has no range: call keep_in_range() at the end of its migration");
}

/// A newer or a broken version may have written what this one does not know.
#[sqlx::test(migrations = "../../migrations")]
async fn a_row_that_cannot_be_read_is_left_out_and_its_neighbours_stay(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    send(&company, 20).await;
    send(&company, 21).await;
    let finding = json!({
        "id": id(30), "position": "fill_valve", "finding": "degraded", "failure_mode": "slow", "evidence": "timed",
        "test_run_ids": [], "found_at": "2026-03-02T10:05:00Z",
    });
    company.post(&format!("{}/findings", order()), TECHNICIAN, finding).await.expect(201);
    let newer = "ALTER TABLE test_run DISABLE TRIGGER insert_only;
        UPDATE test_run SET phase = 'a_phase_of_the_next_version' WHERE sequence = 20;
        UPDATE test_run SET payload = payload || '{\"conditions\": 7}' WHERE sequence = 20;
        ALTER TABLE visit DROP CONSTRAINT visit_result_check";
    sqlx::raw_sql(newer).execute(&company.pool).await.unwrap();
    reads_all(&company).await;
    company.get(&format!("/v1/test-runs/{}", id(20)), TECHNICIAN).await.expect(404);
    let runs = company.get(&format!("{}/test-runs", order()), TECHNICIAN).await.expect(200).body;
    let ids: Vec<_> = runs["items"].as_array().unwrap().iter().map(|run| run["id"].clone()).collect();
    assert_eq!(ids, [id(21)], "the other run is there");
    let unreadable = store::check::unreadable(&store::Database::over(company.pool.clone())).await.unwrap();
    assert_eq!(unreadable.len(), 1, "{unreadable:?}");
    assert!(unreadable[0].contains(&id(20)), "check names it: {unreadable:?}");
}

/// An answer without its headers would look whole: a created thing without an address.
#[sqlx::test(migrations = "../../migrations")]
async fn a_kept_answer_whose_headers_cannot_be_read_is_no_answer(pool: PgPool) {
    let service = crate::service::Service::over(pool.clone()).await;
    let body = json!({"id": service.id(), "name": "Quay Catering"});
    let ask = || service.administrator().header("idempotency-key", "one").post("/v1/customers", body.clone());
    let made = ask().await;
    made.assert(201);
    assert_eq!(ask().await.header("location"), made.header("location"));
    sqlx::raw_sql("UPDATE idempotency SET headers = '{\"location\": 7}'").execute(&pool).await.unwrap();
    ask().await.assert_problem(500, "internal");
}

/// Branches are numbered ahead: the later one may have the lower number.
#[sqlx::test(migrations = false)]
async fn a_migration_that_came_later_with_a_lower_number_is_carried_out(pool: PgPool) {
    const LATE: i64 = 34;
    let before: Vec<_> = MIGRATIONS.iter().filter(|migration| migration.version != LATE).cloned().collect();
    Migrator::with_migrations(before).run(&pool).await.unwrap();
    let database = store::Database::over(pool);
    assert!(matches!(database.schema().await.unwrap(), Schema::Behind { .. }));
    let migrated = database.migrate("2026-03-02T10:00:00Z".parse().unwrap()).await.unwrap();
    assert_eq!(migrated.applied, ["0034 out of sight"]);
    assert!(matches!(database.schema().await.unwrap(), Schema::Ready { .. }));
}
