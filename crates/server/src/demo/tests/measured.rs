//! Measures of the demo company beside counts of its raw rows: each figure is counted a second time, by a statement that
//! follows the definition of the measure word by word and shares nothing with the service.

use application::measures::{Counted, GetMeasures, Measure, Measures};
use application::repeats::Window;
use application::{Application, Caller};
use domain::time::Timestamp;
use sqlx::PgPool;

/// Between which moments an order's time lies, and until when all is known.
const DAYS: &str = "'2025-04-22Z'::timestamptz AND '2026-04-21 23:59:59.999999Z'::timestamptz";
const KNOWN: &str = "'2026-04-22Z'::timestamptz";

/// When an order was verifiably restored.
const RESTORED: &str =
    "(CASE WHEN (o.outcome = 'repaired' OR o.state = 'proven') AND o.proof_doubted_at IS NULL
    AND o.restored_at <= {known} THEN o.restored_at END)";

/// Any corrective order that was called for on the same machine within thirty days of that.
const AGAIN: &str =
    "FROM work_order l WHERE l.appliance_id = o.appliance_id AND l.id <> o.id AND l.kind = 'corrective'
    AND l.outcome IS DISTINCT FROM 'cancelled' AND l.received_at > {restored}
    AND l.received_at <= {restored} + interval '30 days'";

/// Of which the trouble is the same.
const ALIKE: &str = "(l.follows_id = o.id
    OR EXISTS (SELECT FROM symptom a JOIN symptom b ON b.code = a.code WHERE a.work_order_id = o.id AND b.work_order_id = l.id)
    OR EXISTS (SELECT FROM finding a JOIN finding b ON b.position = a.position WHERE a.work_order_id = o.id AND b.work_order_id = l.id
        AND a.finding IN ('degraded', 'failed') AND b.finding IN ('degraded', 'failed')
        AND a.retraction_reason IS NULL AND b.retraction_reason IS NULL
        AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id IN (a.id, b.id))))";

#[expect(clippy::disallowed_methods, reason = "a count of raw rows, written apart from the service")]
async fn counted(pool: &PgPool, statement: &str) -> i64 {
    let statement = statement
        .replace("{again}", AGAIN)
        .replace("{alike}", ALIKE)
        .replace("{restored}", RESTORED)
        .replace("{days}", DAYS)
        .replace("{known}", KNOWN);
    let counted = sqlx::query_scalar(sqlx::AssertSqlSafe(statement.clone())).fetch_one(pool).await;
    counted.unwrap_or_else(|error| panic!("{error}: {statement}"))
}

fn share(measures: &Measures, measure: Measure) -> [i64; 2] {
    let found = measures.measured.iter().find(|measured| measured.measure == measure).unwrap();
    match found.whole.counted {
        Counted::Share(figure) => [figure.numerator.into(), figure.denominator.into()],
        Counted::Lasting(spread) => [spread.n.into(), spread.open.into()],
    }
}

/// The median in whole seconds.
fn median(measures: &Measures, measure: Measure) -> i64 {
    let found = measures.measured.iter().find(|measured| measured.measure == measure).unwrap();
    let Counted::Lasting(spread) = found.whole.counted else { panic!("{measure} is no duration") };
    (spread.median.unwrap().hours * 3600.0).round() as i64
}

pub(super) async fn as_counted_by_hand(application: &Application, pool: &PgPool, caller: &Caller) {
    let as_of: Timestamp = "2026-04-22T12:00:00Z".parse().unwrap();
    let window = Window::of(None, None, as_of).unwrap();
    let question = GetMeasures { window, as_of, days: 30, by: None };
    let measures = application.ask(caller, question).await.unwrap();
    first_visits_and_returns(&measures, pool).await;
    closed_orders(&measures, pool).await;
    times(&measures, pool).await;
}

async fn first_visits_and_returns(measures: &Measures, pool: &PgPool) {
    // First visits that ended thirty days before, and those that mended it.
    let first = "FROM work_order o JOIN LATERAL (SELECT v.arrived_at, v.left_at FROM visit v WHERE v.work_order_id = o.id
            AND v.arrived_at <= {known} ORDER BY v.arrived_at LIMIT 1) first ON true
        WHERE o.kind = 'corrective' AND o.appliance_id IS NOT NULL AND o.outcome IS DISTINCT FROM 'cancelled'
            AND first.left_at BETWEEN {days} AND first.left_at <= {known} - interval '30 days'";
    let at_once = "AND {restored} <= first.left_at
        AND (SELECT count(*) FROM visit v WHERE v.work_order_id = o.id AND v.arrived_at <= {known}) = 1
        AND EXISTS (SELECT FROM finding f WHERE f.work_order_id = o.id AND f.finding IN ('degraded', 'failed')
            AND f.retraction_reason IS NULL AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id))
        AND NOT EXISTS (SELECT {again} AND {alike})";
    let mended = [
        counted(pool, &format!("SELECT count(*) {first} {at_once}")).await,
        counted(pool, &format!("SELECT count(*) {first}")).await,
    ];
    assert_eq!(share(measures, Measure::MendedAtFirstVisit), mended);
    assert!(mended[0] > 0 && mended[0] < mended[1], "{mended:?}");

    let restored = "FROM work_order o WHERE o.kind = 'corrective' AND o.appliance_id IS NOT NULL
        AND {restored} BETWEEN {days} AND {restored} <= {known} - interval '30 days'";
    let all = counted(pool, &format!("SELECT count(*) {restored}")).await;
    let again = counted(pool, &format!("SELECT count(*) {restored} AND EXISTS (SELECT {{again}})")).await;
    let back =
        counted(pool, &format!("SELECT count(*) {restored} AND EXISTS (SELECT {{again}} AND {{alike}})"))
            .await;
    assert_eq!(share(measures, Measure::CalledAgain), [again, all]);
    assert_eq!(share(measures, Measure::CameBack), [back, all]);
    assert!(again >= back && all > 100, "{back} of {again} of {all}");
}

async fn closed_orders(measures: &Measures, pool: &PgPool) {
    let closed = "FROM work_order o WHERE o.kind = 'corrective' AND o.closed_at BETWEEN {days}";
    let attended = "EXISTS (SELECT FROM visit v WHERE v.work_order_id = o.id AND v.arrived_at IS NOT NULL)";
    let looked = format!(
        "{closed} AND {attended} AND o.outcome NOT IN ('explained_use', 'cancelled', 'solved_by_phone')"
    );
    let nothing = "o.outcome NOT IN ('repaired', 'temporary_fix') AND NOT EXISTS (SELECT FROM finding f WHERE f.work_order_id = o.id
        AND f.finding IN ('degraded', 'failed') AND f.retraction_reason IS NULL
        AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id))";
    let no_fault = [
        counted(pool, &format!("SELECT count(*) {looked} AND {nothing}")).await,
        counted(pool, &format!("SELECT count(*) {looked}")).await,
    ];
    assert_eq!(share(measures, Measure::NoFaultFound), no_fault);

    let visits = [
        counted(
            pool,
            &format!(
                "SELECT count(*) FROM visit w WHERE w.arrived_at IS NOT NULL
                     AND w.work_order_id IN (SELECT o.id {closed} AND {attended})"
            ),
        )
        .await,
        counted(pool, &format!("SELECT count(*) {closed} AND {attended}")).await,
    ];
    assert_eq!(share(measures, Measure::VisitsPerOrder), visits);

    let repaired = format!("{closed} AND o.outcome = 'repaired'");
    let unwaived = "NOT EXISTS (SELECT FROM waiver w WHERE w.work_order_id = o.id)";
    let proven = [
        counted(pool, &format!("SELECT count(*) {repaired} AND {unwaived}")).await,
        counted(pool, &format!("SELECT count(*) {repaired}")).await,
    ];
    assert_eq!(share(measures, Measure::ProvenInFull), proven);

    let lines = format!("FROM part_line p WHERE p.work_order_id IN (SELECT o.id {closed}) AND p.state IN");
    let unused = [
        counted(pool, &format!("SELECT count(*) {lines} ('returned_unused')")).await,
        counted(
            pool,
            &format!("SELECT count(*) {lines} ('returned_unused', 'fitted', 'defective_returned')"),
        )
        .await,
    ];
    assert_eq!(share(measures, Measure::ReturnedUnused), unused);
}

async fn times(measures: &Measures, pool: &PgPool) {
    let called = "FROM work_order o LEFT JOIN LATERAL (SELECT min(v.arrived_at) AS at FROM visit v
            WHERE v.work_order_id = o.id AND v.arrived_at <= {known}) came ON true
        WHERE o.kind = 'corrective' AND o.received_at BETWEEN {days} AND (came.at IS NOT NULL OR o.closed_at IS NULL OR o.closed_at > {known})";
    let responses = [
        counted(pool, &format!("SELECT count(*) {called}")).await,
        counted(pool, &format!("SELECT count(*) {called} AND came.at IS NULL")).await,
    ];
    assert_eq!(share(measures, Measure::Response), responses);
    // The product limit, step by step: what had not ended yet is at risk for as long as it had lasted.
    let middle = format!(
        "WITH response AS (SELECT extract(epoch FROM coalesce(came.at, {{known}}) - o.received_at) AS t,
                came.at IS NOT NULL AS ended {called}),
            steps AS (SELECT t, count(*) FILTER (WHERE ended) AS ends,
                (SELECT count(*) FROM response later WHERE later.t >= response.t) AS risk FROM response GROUP BY t),
            curve AS (SELECT t, exp(sum(ln(1 - ends::float8 / risk)) OVER (ORDER BY t)) AS remaining FROM steps
                WHERE ends > 0 AND ends < risk)
        SELECT round(min(t))::bigint FROM curve WHERE remaining <= 0.5 + 1e-9"
    );
    assert_eq!(median(measures, Measure::Response), counted(pool, &middle).await);

    let waits = "FROM waiting w JOIN work_order o ON o.id = w.work_order_id WHERE o.kind = 'corrective' AND w.reason = 'part'
        AND w.from_at BETWEEN {days}";
    let waited = [
        counted(pool, &format!("SELECT count(*) {waits}")).await,
        counted(
            pool,
            &format!("SELECT count(*) {waits} AND coalesce(w.to_at, o.closed_at, 'infinity') > {{known}}"),
        )
        .await,
    ];
    assert_eq!(share(measures, Measure::WaitingForParts), waited);
}
