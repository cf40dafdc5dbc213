//! One call about a machine whose fill valve and wash pump are both weak, from the telephone to the repair.

use serde_json::{Value, json};

use crate::server::{Server, demo_id, new_id};

struct Call {
    server: Server,
    order: String,
}

impl Call {
    fn path(&self) -> String {
        format!("/v1/work-orders/{}", self.order)
    }

    async fn diagnosis(&self) -> Value {
        self.server.json("technician", &format!("{}/diagnosis", self.path())).await
    }

    async fn moved(&self, role: &str, resource: &str, action: &str, body: Value) {
        let answer = self.server.act(role, resource, action, body).await;
        assert_eq!(answer.status(), 200, "{action}: {}", answer.text().await.unwrap());
    }

    async fn read(&self, minute: u32, procedure: &str, more: Value, readings: Value) {
        let mut run = json!({
            "id": new_id(), "appliance_id": demo_id("hotel_combi"), "work_order_id": self.order,
            "procedure": {"key": procedure, "version": 1}, "phase": "before_repair", "device_id": "acceptance",
            "sequence": minute, "taken_at": format!("2026-05-04T{:02}:{:02}:00Z", 10 + minute / 60, minute % 60),
            "readings": readings,
        });
        run.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        let answer = self.server.posted("technician", "/v1/test-runs", 200, json!({"runs": [run]})).await;
        assert_eq!(answer["items"][0]["status"], "created", "{answer}");
    }

    async fn read_the_fill(&self, minute: u32, seconds: f64, litres: f64, dynamic: f64) {
        let pressure =
            json!([value("static_pressure", 3.0, "bar"), value("dynamic_pressure", dynamic, "bar")]);
        self.read(minute, "inlet_pressure", json!({}), pressure).await;
        let look = json!([choice("inlet_strainer", "clear"), choice("valve_strainer", "clear")]);
        self.read(minute + 1, "strainer_look", json!({}), look).await;
        let empty = json!({"conditions": {"confirmed": ["sump_empty"]}});
        self.read(minute + 2, "fill_time", empty, json!([value("fill_time", seconds, "s")])).await;
        let catch = json!([
            value("call_duration", 12.0, "s"),
            value("bucket_volume", 8.0, "L"),
            value("caught", litres, "L")
        ]);
        self.read(minute + 3, "start_up_catch", json!({}), catch).await;
    }

    async fn read_the_wash(&self, minute: u32, held: f64) {
        self.read(minute, "sump_holds", json!({}), json!([value("level_fall", 0.0, "mm")])).await;
        let door = json!([
            choice("shut_recognised", "at_once"),
            choice("opening_recognised", "at_once"),
            choice("pump_refuses", "refuses")
        ]);
        self.read(minute + 1, "door_switch", json!({}), door).await;
        let wash = json!([
            value("level_before", 2.9, "L"),
            value("run_length", 60.0, "s"),
            choice("strength", "strong"),
            value("hold_time", held, "s")
        ]);
        self.read(minute + 2, "wash_flow_hold", json!({}), wash).await;
    }
}

fn value(step: &str, value: f64, unit: &str) -> Value {
    json!({"step": step, "value": {"value": value, "unit": unit}})
}

fn choice(step: &str, choice: &str) -> Value {
    json!({"step": step, "choice": choice})
}

fn probability(diagnosis: &Value, fault: &str) -> f64 {
    let faults = diagnosis["faults"].as_array().unwrap();
    faults.iter().find(|of| of["fault"] == fault).unwrap()["probability"].as_f64().unwrap()
}

#[tokio::test]
async fn a_call_whose_valve_and_pump_are_both_weak_is_diagnosed_before_and_after_each_reading() {
    let server = Server::with_demo().await;
    let call = Call { server, order: new_id() };
    let body = json!({
        "id": new_id(), "site_id": demo_id("hotel_kitchen"), "contact_id": demo_id("contact_hotel"),
        "words": "It stays greasy.", "urgency": "degraded", "stop_use": false, "received_at": "2026-05-04T08:00:00Z",
        "answers": [{"question": "cycle_starts", "answer": "Starts"}, {"question": "moon", "answer": "full"}],
        "orders": [{"id": call.order, "appliance_id": demo_id("hotel_combi"), "symptoms": ["does_not_clean"]}],
    });
    call.server.posted("dispatcher", "/v1/calls", 201, body).await;
    let visit = new_id();
    let booking =
        json!({"id": visit, "planned_at": "2026-05-04T10:00:00Z", "people": [demo_id("technician")]});
    let path = call.path();
    call.moved("dispatcher", &path, "assess", json!({})).await;
    call.server.posted("dispatcher", &format!("{path}/visits"), 201, booking).await;

    // Before the visit: from the complaint alone, unsure, with a first test and parts to think of.
    let before = call.diagnosis().await;
    assert_eq!(before["notes"][0]["kind"], "nothing_read", "{before}");
    assert_eq!(before["set_aside"][0]["what"], "intake/moon");
    assert!(before["sets"][0]["probability"].as_f64().unwrap() < 0.5, "{}", before["sets"]);
    assert!(before["next"]["test"].is_object() && !before["parts"]["parts"].as_array().unwrap().is_empty());
    let valve = before["parts"]["parts"].as_array().unwrap().iter().find(|part| part["part"] == "fill_valve");
    assert_eq!(valve.unwrap()["fits"][0]["number"], "fill-valve-01");
    for test in before["next"]["tests"].as_array().unwrap() {
        assert!(!test["test"]["cautions"].as_array().unwrap().is_empty(), "{test}");
    }

    call.moved("dispatcher", &path, "plan", json!({})).await;
    call.moved("technician", &format!("/v1/visits/{visit}"), "arrive", json!({"at": "2026-05-04T10:00:00Z"}))
        .await;

    // The fill says the valve; the pump behind it is not acquitted by that.
    call.read_the_fill(2, 31.97, 1.061, 2.973).await;
    let filled = call.diagnosis().await;
    assert!(probability(&filled, "fill_valve_weak") > 0.5, "{}", filled["sentence"]);
    assert!(filled["evidence_version"].as_i64() > before["evidence_version"].as_i64());
    // What tells of the wash is among the next things to do, and nothing that was read is asked for again.
    let tests = filled["next"]["tests"].as_array().unwrap();
    let asked: Vec<_> = tests.iter().map(|test| test["test"]["procedure"].as_str().unwrap()).collect();
    assert!(asked[..4].contains(&"wash_flow_hold"), "{asked:?}");
    assert!(!asked.contains(&"fill_time") && !asked.contains(&"strainer_look"), "{asked:?}");

    // The wash fades from a full sump: the pair stands first.
    call.read_the_wash(20, 2.0).await;
    let washed = call.diagnosis().await;
    let pair = washed["sets"][0]["faults"].as_array().unwrap();
    for fault in ["fill_valve_weak", "wash_pump_fades"] {
        assert!(pair.contains(&json!(fault)), "{}", washed["sets"]);
    }
    let unchanged = format!("{path}/diagnosis");
    let first = call.server.get("technician", &unchanged).await;
    let etag = first.headers()["etag"].to_str().unwrap().to_owned();
    let again = call.server.get("technician", &unchanged).await;
    assert_eq!(first.text().await.unwrap(), again.text().await.unwrap(), "computed and cached are the same");

    // The valve is replaced: a new epoch, in which the pump is known to stand and the fill is asked for again.
    let finding = |position: &str, fault: &str, mode: &str| {
        json!({"id": new_id(), "position": position, "fault": {"key": fault, "version": 1}, "finding": "failed",
            "failure_mode": mode, "evidence": "timed", "found_at": "2026-05-04T10:40:00Z"})
    };
    for body in [
        finding("fill_valve", "fill_valve_weak", "slow"),
        finding("wash_pump", "wash_pump_fades", "starts_then_fades"),
    ] {
        call.server.posted("technician", &format!("{path}/findings"), 201, body).await;
    }
    call.moved("technician", &path, "start_repair", json!({})).await;
    let body = json!({"id": new_id(), "position": "fill_valve", "action": "replaced",
        "taken_at": "2026-05-04T11:00:00Z"});
    call.server.posted("technician", &format!("{path}/actions-taken"), 201, body).await;
    let repaired = call.diagnosis().await;
    assert_eq!((&repaired["epoch"], &repaired["readings"]), (&json!(1), &json!([])));
    assert!(probability(&repaired, "wash_pump_fades") > 0.5, "{}", repaired["sets"]);
    assert!(probability(&repaired, "fill_valve_weak") < 0.1, "{}", repaired["sets"]);
    let mandatory = repaired["next"]["mandatory"].as_array().unwrap();
    assert!(mandatory.iter().any(|test| test["procedure"] == "dead_electrical"), "wet work was done");
    call.read_the_fill(70, 12.71, 2.670, 2.831).await;
    call.read_the_wash(80, 2.0).await;
    let proven = call.diagnosis().await;
    assert_eq!(proven["sets"][0]["faults"], json!(["wash_pump_fades"]), "{}", proven["sets"]);
    let earlier = call.server.json("technician", &format!("{path}/diagnosis?epoch=0")).await;
    assert_eq!(earlier["sets"], washed["sets"], "what is done later does not change an earlier epoch");
    assert_ne!(etag, call.server.get("technician", &unchanged).await.headers()["etag"].to_str().unwrap());
}
