//! The same readings sent again, by many at once, in any order, and across a power cut.

use std::sync::Arc;

use serde_json::{Value, json};

use crate::server::{Server, demo_id, new_id};

/// Runs of the open order in the bakery: pressure, look, fill time, catch.
fn runs() -> Vec<Value> {
    let readings = [
        (
            "inlet_pressure",
            json!([reading("static_pressure", 1.0, "bar"), reading("dynamic_pressure", 0.944, "bar")]),
        ),
        ("strainer_look", json!([choice("inlet_strainer", "clear"), choice("valve_strainer", "clear")])),
        ("fill_time", json!([reading("fill_time", 22.01, "s")])),
        (
            "start_up_catch",
            json!([
                reading("bucket_volume", 8.0, "L"),
                reading("call_duration", 12.0, "s"),
                reading("caught", 1.542, "L")
            ]),
        ),
    ];
    let of_index = |(index, (procedure, readings)): (usize, (&str, Value))| {
        json!({
            "id": new_id(), "appliance_id": demo_id("bakery_combi"), "work_order_id": demo_id("order_bakery_3"),
            "procedure": {"key": procedure, "version": 1}, "phase": "before_repair", "device_id": "acceptance",
            "sequence": index, "taken_at": format!("2026-03-18T09:{index:02}:00Z"), "readings": readings,
            "conditions": {"confirmed": if procedure == "fill_time" { vec!["sump_empty"] } else { vec![] }},
        })
    };
    readings.into_iter().enumerate().map(of_index).collect()
}

fn reading(step: &str, value: f64, unit: &str) -> Value {
    json!({"step": step, "value": {"value": value, "unit": unit}})
}

fn choice(step: &str, choice: &str) -> Value {
    json!({"step": step, "choice": choice})
}

fn statuses(answer: &Value) -> Vec<&str> {
    answer["items"].as_array().unwrap().iter().map(|item| item["status"].as_str().unwrap()).collect()
}

/// The verdicts of the order on these runs, without what differs between two databases.
async fn verdicts(server: &Server, runs: &[Value]) -> Vec<Value> {
    let path = format!("/v1/work-orders/{}/verdicts", demo_id("order_bakery_3"));
    let answer = server.json("dispatcher", &path).await;
    let ids: Vec<_> = runs.iter().map(|run| run["id"].clone()).collect();
    let all = answer["verdicts"].as_array().unwrap().iter();
    all.filter(|verdict| ids.contains(&verdict["test_run_id"])).cloned().collect()
}

#[tokio::test]
async fn eight_phones_send_the_same_batch_at_once_and_it_is_kept_once() {
    let server = Arc::new(Server::with_demo().await);
    let runs = runs();
    let senders: Vec<_> = (0..8)
        .map(|sender| {
            let (server, mut runs) = (Arc::clone(&server), runs.clone());
            // Each phone in an order of its own.
            runs.rotate_left(sender % 4);
            if sender >= 4 {
                runs.reverse();
            }
            tokio::spawn(async move {
                server.posted("dispatcher", "/v1/test-runs", 200, json!({"runs": runs})).await
            })
        })
        .collect();
    let mut created = 0;
    for sender in senders {
        let answer = sender.await.unwrap();
        for status in statuses(&answer) {
            assert!(["created", "already_there"].contains(&status), "{answer}");
            created += usize::from(status == "created");
        }
    }
    assert_eq!(created, runs.len(), "each run was made once");
    let again = server.posted("dispatcher", "/v1/test-runs", 200, json!({"runs": runs})).await;
    assert_eq!(statuses(&again), ["already_there"; 4]);
    let list = format!("/v1/work-orders/{}/test-runs", demo_id("order_bakery_3"));
    let kept = server.json("dispatcher", &list).await;
    let kept =
        kept["items"].as_array().unwrap().iter().filter(|item| item["device_id"] == "acceptance").count();
    assert_eq!(kept, runs.len());
}

#[tokio::test]
async fn every_order_of_arrival_gives_the_same_verdicts() {
    let runs = runs();
    let mut seen: Option<Vec<Value>> = None;
    // The fill time before its pressure, after it, and all backwards, one by one.
    for order in [[0, 1, 2, 3], [2, 3, 1, 0], [3, 2, 1, 0]] {
        let server = Server::with_demo().await;
        for index in order {
            let answer =
                server.posted("dispatcher", "/v1/test-runs", 200, json!({"runs": [runs[index]]})).await;
            assert_eq!(statuses(&answer), ["created"]);
        }
        let verdicts = verdicts(&server, &runs).await;
        let fill = verdicts.iter().find(|verdict| verdict["step"] == "fill_time").unwrap();
        assert_eq!(fill["as_found"]["conformity"], "fail");
        assert_eq!(fill["at_reference"]["conformity"], "pass");
        assert!(fill["sentence"].as_str().unwrap().contains("supply is low"), "{fill}");
        match &seen {
            Some(first) => assert_eq!(&verdicts, first, "arrival {order:?}"),
            None => seen = Some(verdicts),
        }
    }
}

#[tokio::test]
async fn one_bad_run_is_told_and_the_others_are_kept() {
    let server = Server::with_demo().await;
    let mut runs = runs();
    runs[0]["readings"][0]["value"]["unit"] = json!("kg");
    runs[1]["colour"] = json!("red");
    runs[3]["readings"][0]["value"]["value"] = json!(-8.0);
    let answer = server.posted("dispatcher", "/v1/test-runs", 200, json!({"runs": runs})).await;
    assert_eq!(statuses(&answer), ["rejected", "rejected", "created", "rejected"], "{answer}");
    let fault = |index: usize| answer["items"][index]["problem"]["errors"][0].clone();
    assert_eq!(fault(0)["pointer"], "/readings/0/value/unit");
    assert!(fault(1)["detail"].as_str().unwrap().contains("unknown_field: colour"));
    assert_eq!(answer["items"][0]["id"], runs[0]["id"], "the id comes back beside its fault");
}

#[tokio::test]
async fn a_server_killed_in_mid_batch_keeps_all_of_it_or_nothing() {
    let mut server = Server::with_demo().await;
    for _ in 0..3 {
        let runs = runs();
        let (url, token) = (server.url("/v1/test-runs"), server.token("dispatcher"));
        let body = json!({"runs": runs});
        let sending = tokio::spawn(async move {
            reqwest::Client::new().post(url).bearer_auth(token).json(&body).send().await.is_ok()
        });
        tokio::time::sleep(std::time::Duration::from_millis(4)).await;
        server.kill_and_start_again();
        let _ = sending.await;
        let again = server.posted("dispatcher", "/v1/test-runs", 200, json!({"runs": runs})).await;
        let statuses = statuses(&again);
        let whole = statuses == ["created"; 4] || statuses == ["already_there"; 4];
        assert!(whole, "half a batch was kept: {again}");
    }
}
