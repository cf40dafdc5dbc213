use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::Past;
use crate::places::send_there;

/// Occurrences, repeats, continued, appliances of each window: 7, 30, 90, 365 days.
fn counts(windows: &Value) -> Vec<[u64; 4]> {
    let windows = windows.as_array().unwrap();
    let lengths: Vec<_> = windows.iter().map(|window| window["days"].as_u64().unwrap()).collect();
    assert_eq!(lengths, [7, 30, 90, 365]);
    let count = |window: &Value, name: &str| window[name].as_u64().unwrap();
    let fields = ["occurrences", "repeats", "continued", "appliances"];
    windows.iter().map(|window| fields.map(|name| count(window, name))).collect()
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_fault_that_comes_back_is_counted_against_its_restoration(pool: PgPool) {
    let past = Past::of(pool.clone()).await;
    // Mended on 2 January; back on 20 January, 18 days later; the machine beside it on 10 February.
    let first = past.order(&past.left, "corrective", "01-01 08:00Z", Some("01-02 08:00Z")).await;
    past.failed(&first, "fill_valve", "slow", "01-01 10:00Z").await;
    let second = past.order(&past.left, "corrective", "01-20 08:00Z", Some("01-21 08:00Z")).await;
    past.failed(&second, "fill_valve", "slow", "01-20 10:00Z").await;
    let beside = past.order(&past.right, "corrective", "02-10 08:00Z", None).await;
    past.failed(&beside, "fill_valve", "slow", "02-10 10:00Z").await;
    // Not failures: planned work; a finding that was taken back; an order of another kitchen.
    let planned = past.order(&past.left, "planned", "02-05 08:00Z", Some("02-05 12:00Z")).await;
    past.failed(&planned, "door_gasket", "worn", "02-05 10:00Z").await;
    let mistaken = past.failed(&beside, "wash_pump", "blocked", "02-10 10:00Z").await;
    past.retract(&mistaken, "02-11 08:00Z").await;
    let elsewhere = past.order(&past.far, "corrective", "02-01 08:00Z", None).await;
    past.failed(&elsewhere, "fill_valve", "slow", "02-01 10:00Z").await;
    // Called on 12 February, 22 days after the last restoration, and nothing found.
    let nothing = past.order(&past.left, "corrective", "02-12 08:00Z", Some("02-12 09:00Z")).await;
    past.write(format!(
        "UPDATE work_order SET outcome = 'no_fault_found', restored_at = NULL WHERE id = '{nothing}'"
    ))
    .await;

    let ask = || past.service.as_role(Role::Dispatcher);
    let path = format!("/v1/sites/{}/recurring-faults?as_of=", past.site);
    let report = ask().get(&format!("{path}2026-02-15T00:00:00Z")).await;
    report.assert(200);
    let faults = report.body["by_fault"].as_array().unwrap();
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!((&faults[0]["position"], &faults[0]["failure_mode"]), (&json!("fill_valve"), &json!("slow")));
    assert_eq!(faults[0]["is_external"], json!(false));
    assert_eq!(counts(&faults[0]["windows"]), [[1, 0, 0, 1], [2, 1, 0, 2], [3, 1, 0, 2], [3, 1, 0, 2]]);
    let window = &faults[0]["windows"][1];
    assert_eq!(window["orders"], json!([second, beside]));
    assert_eq!(
        window["links"],
        json!([{"earlier_work_order_id": first, "later_work_order_id": second,
        "appliance_id": past.left, "days_between": 18.0}])
    );
    assert_eq!(window["recurs"], json!(true));
    assert_eq!(
        counts(&report.body["by_position"][0]["windows"])[1][3],
        2,
        "the position failed on two machines"
    );
    let no_fault: Vec<_> =
        counts(&report.body["no_fault"]).iter().map(|count| [count[0], count[1]]).collect();
    assert_eq!(no_fault, [[1, 0], [1, 1], [1, 1], [1, 1]]);
    assert_eq!(report.body["left_out"]["planned"], json!(1));

    // As it stood before: the pump's finding was not taken back yet, the valve beside not reported.
    let earlier = ask().get(&format!("{path}2026-01-25T00:00:00Z")).await;
    assert_eq!(
        counts(&earlier.body["by_fault"][0]["windows"]),
        [[1, 0, 0, 1], [2, 1, 0, 1], [2, 1, 0, 1], [2, 1, 0, 1]]
    );
    let before_retraction = ask().get(&format!("{path}2026-02-11T00:00:00Z")).await;
    assert_eq!(before_retraction.body["by_fault"].as_array().unwrap().len(), 2);

    ask().get(&format!("{path}yesterday")).await.assert_problem(400, "malformed").assert_fault("as_of");
    let technician = || past.service.as_role(Role::Technician);
    technician().get(&format!("{path}2026-02-15T00:00:00Z")).await.assert_problem(404, "not-found");
    send_there(&past.service, &pool, &past.site).await;
    technician().get(&format!("{path}2026-02-15T00:00:00Z")).await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_low_supply_on_every_machine_is_no_fault_of_a_machine(pool: PgPool) {
    let past = Past::of(pool).await;
    for machine in [&past.left, &past.right] {
        let order = past.order(machine, "corrective", "03-01 08:00Z", None).await;
        past.failed(&order, "site_pressure", "operates_weakly", "03-01 10:00Z").await;
    }
    let path = format!("/v1/sites/{}/recurring-faults?as_of=2026-03-05T00:00:00Z", past.site);
    let report = past.service.administrator().get(&path).await;
    let fault = &report.body["by_position"][0];
    assert_eq!((&fault["position"], &fault["is_external"]), (&json!("site_pressure"), &json!(true)));
    assert_eq!(counts(&fault["windows"])[0], [2, 0, 0, 2]);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_was_only_said_to_be_repaired_is_not_yet_restored(pool: PgPool) {
    let past = Past::of(pool).await;
    let first = past.order(&past.left, "corrective", "01-01 08:00Z", None).await;
    past.failed(&first, "wash_pump", "blocked", "01-01 09:00Z").await;
    let second = past.order(&past.left, "corrective", "01-05 08:00Z", None).await;
    past.failed(&second, "wash_pump", "blocked", "01-05 09:00Z").await;
    let path = format!("/v1/sites/{}/recurring-faults?as_of=2026-01-06T00:00:00Z", past.site);
    for (state, expected) in [("repaired_unproven", [1, 0, 1, 1]), ("proven", [2, 1, 0, 1])] {
        past.write(format!(
            "UPDATE work_order SET state = '{state}', restored_at = '2026-01-02 08:00Z' WHERE id = '{first}'"
        ))
        .await;
        let report = past.service.administrator().get(&path).await;
        assert_eq!(counts(&report.body["by_fault"][0]["windows"])[0], expected, "{state}");
    }
}
