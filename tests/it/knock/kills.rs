//! Server and database are killed while many write: nothing that was acknowledged is lost, nothing is doubled.

use std::collections::{BTreeMap, HashSet};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use reqwest::{Client, Method, StatusCode};
use serde_json::{Value, json};

use super::{Patience, UNBOUNDED, tell, times};
use crate::crash::Cluster;
use crate::server::{Server, new_id};

const WRITERS: usize = 6;
/// The service is to be back so soon after the database. Told, not demanded: a busy machine has its own pace.
const BACK_WITHIN: Duration = Duration::from_secs(2);

/// Where the server is now, and what its writers were promised.
struct Scene {
    address: Mutex<String>,
    token: String,
    client: Client,
    is_over: AtomicBool,
    /// What was acknowledged, as kind and subject of the feed's item.
    acknowledged: Mutex<HashSet<String>>,
    /// Of whom all was acknowledged: customer, order, run.
    whole: Mutex<Vec<(String, String, String)>>,
    /// When the phones say that they read.
    taken_at: String,
}

impl Scene {
    /// Sends until there is an answer that says what became of it, as a phone does.
    async fn send(
        &self,
        method: Method,
        path: &str,
        key: &str,
        tag: Option<&str>,
        body: &Value,
    ) -> (StatusCode, Value) {
        loop {
            let url = format!("http://{}{path}", self.address.lock().unwrap());
            let media =
                if method == Method::PATCH { "application/merge-patch+json" } else { "application/json" };
            let mut request = self.client.request(method.clone(), url).bearer_auth(&self.token);
            request =
                request.header("idempotency-key", key).header("content-type", media).body(body.to_string());
            if let Some(tag) = tag {
                request = request.header("if-match", tag);
            }
            if let Ok(answer) = request.send().await {
                let status = answer.status();
                let is_final = !matches!(status.as_u16(), 408 | 503) && status != StatusCode::CONFLICT;
                if let (true, Ok(body)) = (is_final, answer.json().await) {
                    return (status, body);
                }
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    }

    /// Takes customers with a kitchen, a machine and a call in, for as long as the killing goes on: creates, a change, a move
    /// and a phone's batch.
    async fn write(&self) {
        while !self.is_over.load(Ordering::Relaxed) {
            self.write_one().await;
        }
    }

    async fn write_one(&self) {
        let [customer, site, machine, call, order, run] = std::array::from_fn(|_| new_id());
        self.create("/v1/customers", json!({"id": customer, "name": "Bay"})).await;
        self.note(&customer, "customer.created");
        let name = json!({"name": format!("Hill {customer}")});
        let path = format!("/v1/customers/{customer}");
        let (status, answer) = self.send(Method::PATCH, &path, &new_id(), Some("\"1\""), &name).await;
        assert_eq!(status, 200, "a keyed change that was carried out is answered as it was: {answer}");
        self.note(&customer, "customer.changed");
        let kitchen = json!({"id": site, "customer_id": customer, "name": "Hill", "place": "1 Quay", "time_zone": "Etc/UTC"});
        self.create("/v1/sites", kitchen).await;
        self.note(&site, "site.created");
        let model = json!({"key": "demo_combi"});
        let unit = json!({"id": machine, "site_id": site, "model": model, "position_label": "Left"});
        self.create("/v1/appliances", unit).await;
        self.note(&machine, "appliance.created");
        let told = json!({
            "id": call, "site_id": site, "words": "It fills and fills.", "urgency": "degraded", "stop_use": false,
            "orders": [{"id": order, "appliance_id": machine, "symptoms": ["does_not_clean"]}],
        });
        self.create("/v1/calls", told).await;
        self.note(&call, "call.taken");
        self.note(&order, "work_order.created");
        let path = format!("/v1/work-orders/{order}/actions/assess");
        let (status, answer) = self.send(Method::POST, &path, &new_id(), Some("\"1\""), &json!({})).await;
        assert_eq!(status, 200, "a keyed move that was carried out is answered as it was: {answer}");
        self.note(&order, "work_order.moved");
        let batch = json!({"runs": [{
            "id": run, "appliance_id": machine, "work_order_id": order, "procedure": {"key": "fill_time", "version": 1},
            "phase": "before_repair", "device_id": "phone", "sequence": 1, "taken_at": self.taken_at,
            "conditions": {"confirmed": ["sump_empty"]},
            "readings": [{"step": "fill_time", "value": {"value": 22.0, "unit": "s"}}],
        }]});
        let (status, answer) = self.send(Method::POST, "/v1/test-runs", &new_id(), None, &batch).await;
        let became = answer["items"][0]["status"].as_str().unwrap_or_default();
        assert!(status == 200 && matches!(became, "created" | "already_there"), "{status} {answer}");
        self.note(&run, "test_run.recorded");
        self.whole.lock().unwrap().push((customer, order, run));
    }

    async fn create(&self, path: &str, body: Value) {
        let (status, answer) = self.send(Method::POST, path, &new_id(), None, &body).await;
        assert!(matches!(status.as_u16(), 200 | 201), "{path}: {status} {answer}");
    }

    /// Keeps what was acknowledged, as the feed has to tell it.
    fn note(&self, subject: &str, kind: &str) {
        self.acknowledged.lock().unwrap().insert(format!("{kind} {subject}"));
    }

    async fn read(&self, path: &str) -> Value {
        let url = format!("http://{}{path}", self.address.lock().unwrap());
        let answer = self.client.get(url).bearer_auth(&self.token).send().await.unwrap();
        let tag = answer.headers().get("etag").map(|tag| tag.to_str().unwrap().to_owned());
        json!({"etag": tag, "body": answer.json::<Value>().await.unwrap()})
    }

    /// Reads the feed from this cursor to its end: how often it told each item.
    async fn feed(&self, mut cursor: String, told: &mut BTreeMap<String, usize>) -> String {
        loop {
            let url = format!("http://{}/v1/changes?limit=200&cursor={cursor}", self.address.lock().unwrap());
            let Ok(answer) = self.client.get(url).bearer_auth(&self.token).send().await else {
                return cursor;
            };
            let Ok(page) = answer.error_for_status() else { return cursor };
            let Ok(page) = page.json::<Value>().await else { return cursor };
            assert_eq!(page["start_over"], json!(false), "no life ended: {page}");
            for item in page["items"].as_array().unwrap() {
                let (kind, subject) = (item["kind"].as_str().unwrap(), item["subject_id"].as_str().unwrap());
                *told.entry(format!("{kind} {subject}")).or_default() += 1;
            }
            page["cursor"].as_str().unwrap().clone_into(&mut cursor);
            if page["has_more"] != json!(true) {
                return cursor;
            }
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn kills_of_server_and_database_lose_and_double_nothing() {
    let kills = times("KNOCK_KILLS", 6);
    let cluster = Cluster::start();
    let mut server = Server::empty_on(&cluster.url, &UNBOUNDED).await;
    let scene = Arc::new(Scene {
        address: Mutex::new(server.address.clone()),
        token: server.make_token("administrator"),
        client: Client::builder().timeout(Duration::from_secs(10)).build().unwrap(),
        is_over: AtomicBool::new(false),
        acknowledged: Mutex::default(),
        whole: Mutex::default(),
        taken_at: chrono::Utc::now().to_rfc3339_opts(chrono::SecondsFormat::Secs, true),
    });
    let mut cursor = scene.read("/v1/changes").await["body"]["cursor"].as_str().unwrap().to_owned();
    let mut told = BTreeMap::new();
    let writers = (0..WRITERS).map(|_| {
        let scene = Arc::clone(&scene);
        tokio::spawn(async move { scene.write().await })
    });
    let writers: Vec<_> = writers.collect();
    let (mut done, mut times_back, patience) = (0, Vec::new(), Patience::begin());
    for kill in 0..kills {
        if patience.has_run_out() {
            break;
        }
        done += 1;
        tokio::time::sleep(Duration::from_millis(60 + 37 * (kill as u64 % 5))).await;
        if kill % 3 == 2 {
            cluster.crash_and_start_again();
            let back = Instant::now();
            let url = server.url("/readyz");
            while !matches!(scene.client.get(&url).send().await, Ok(answer) if answer.status() == 200) {
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            times_back.push(back.elapsed());
        } else {
            server.kill_and_start_again();
            server.address.clone_into(&mut scene.address.lock().unwrap());
        }
        cursor = scene.feed(cursor, &mut told).await;
    }
    scene.is_over.store(true, Ordering::Relaxed);
    for writer in writers {
        writer.await.unwrap();
    }
    let acknowledged = scene.acknowledged.lock().unwrap().clone();
    for _ in 0..1000 {
        cursor = scene.feed(cursor, &mut told).await;
        if acknowledged.iter().all(|item| told.contains_key(item)) {
            break;
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let untold: Vec<_> = acknowledged.iter().filter(|item| !told.contains_key(*item)).collect();
    assert!(untold.is_empty(), "{} of {} were never told: {untold:?}", untold.len(), acknowledged.len());
    let doubled: Vec<_> = told.iter().filter(|(_, times)| **times > 1).collect();
    assert!(doubled.is_empty(), "told more than once: {doubled:?}");
    let whole = scene.whole.lock().unwrap().clone();
    for (customer, order, run) in &whole {
        let kept = scene.read(&format!("/v1/customers/{customer}")).await;
        assert_eq!(kept["etag"], "\"2\"", "changed once: {kept}");
        assert_eq!(kept["body"]["name"], json!(format!("Hill {customer}")));
        let kept = scene.read(&format!("/v1/work-orders/{order}")).await;
        assert_eq!((&kept["etag"], &kept["body"]["state"]), (&json!("\"2\""), &json!("assessed")), "{kept}");
        let kept = scene.read(&format!("/v1/work-orders/{order}/test-runs")).await;
        let runs: Vec<_> = kept["body"]["items"].as_array().unwrap().iter().map(|kept| &kept["id"]).collect();
        assert_eq!(runs, [&json!(run)], "kept once");
    }
    assert!(!acknowledged.is_empty(), "somebody wrote between the kills");
    server.check();
    let crashes = times_back.len();
    let late = times_back.iter().filter(|time| **time > BACK_WITHIN).count();
    let came = format!(
        "{} writes acknowledged, none lost, none doubled, feed exact; {} of the server; {crashes} of the database: back after {} ms \
         at the slowest, {late} times later than {} s",
        acknowledged.len(),
        done - crashes,
        times_back.iter().max().unwrap_or(&Duration::ZERO).as_millis(),
        BACK_WITHIN.as_secs(),
    );
    tell("kills of server and database under load", done, &came);
}
