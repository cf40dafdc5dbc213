//! Server and database are killed while many write: nothing that was acknowledged is lost, nothing is doubled.

use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use reqwest::{Client, Method, StatusCode};
use serde_json::{Value, json};

use super::{UNBOUNDED, tell, times};
use crate::crash::Cluster;
use crate::server::{Server, new_id};

const WRITERS: usize = 6;

/// Where the server is now, and what its writers were promised.
struct Scene {
    address: Mutex<String>,
    token: String,
    client: Client,
    is_over: AtomicBool,
    /// The last acknowledged name of each customer.
    acknowledged: Mutex<HashMap<String, String>>,
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

    /// Takes customers in and renames each once, for as long as the killing goes on.
    async fn write(&self) {
        while !self.is_over.load(Ordering::Relaxed) {
            let id = new_id();
            let body = json!({"id": id, "name": "Bay"});
            let (status, answer) = self.send(Method::POST, "/v1/customers", &new_id(), None, &body).await;
            assert!(matches!(status.as_u16(), 200 | 201), "{status} {answer}");
            self.acknowledged.lock().unwrap().insert(id.clone(), "Bay".to_owned());
            let name = format!("Hill {id}");
            let (path, body) = (format!("/v1/customers/{id}"), json!({"name": name}));
            let (status, answer) = self.send(Method::PATCH, &path, &new_id(), Some("\"1\""), &body).await;
            assert_eq!(status, 200, "a keyed change that was carried out is answered as it was: {answer}");
            self.acknowledged.lock().unwrap().insert(id, name);
        }
    }

    /// Reads the feed from this cursor to its end: how often it told of each subject.
    async fn feed(&self, mut cursor: String, told: &mut BTreeMap<String, usize>) -> String {
        loop {
            let url = format!("http://{}/v1/changes?limit=200&since={cursor}", self.address.lock().unwrap());
            let Ok(answer) = self.client.get(url).bearer_auth(&self.token).send().await else {
                return cursor;
            };
            let Ok(page) = answer.error_for_status() else { return cursor };
            let Ok(page) = page.json::<Value>().await else { return cursor };
            assert_eq!(page["start_over"], json!(false), "no life ended: {page}");
            for item in page["items"].as_array().unwrap() {
                *told.entry(item["subject_id"].as_str().unwrap().to_owned()).or_default() += 1;
            }
            page["next"].as_str().unwrap().clone_into(&mut cursor);
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
    });
    let first = scene.client.get(server.url("/v1/changes")).bearer_auth(&scene.token).send().await.unwrap();
    let mut cursor = first.json::<Value>().await.unwrap()["next"].as_str().unwrap().to_owned();
    let mut told = BTreeMap::new();
    let writers = (0..WRITERS).map(|_| {
        let scene = Arc::clone(&scene);
        tokio::spawn(async move { scene.write().await })
    });
    let writers: Vec<_> = writers.collect();
    let mut slowest = Duration::ZERO;
    for kill in 0..kills {
        tokio::time::sleep(Duration::from_millis(60 + 37 * (kill as u64 % 5))).await;
        if kill % 3 == 2 {
            cluster.crash_and_start_again();
            let back = Instant::now();
            let url = server.url("/readyz");
            while !matches!(scene.client.get(&url).send().await, Ok(answer) if answer.status() == 200) {
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            slowest = slowest.max(back.elapsed());
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
    for _ in 0..200 {
        cursor = scene.feed(cursor, &mut told).await;
        if acknowledged.keys().all(|id| told.get(id) == Some(&2)) {
            break;
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let inexact = acknowledged.keys().filter(|id| told.get(*id) != Some(&2)).count();
    assert_eq!(
        inexact,
        0,
        "of {} customers the feed did not tell each of two changes once",
        acknowledged.len()
    );
    for (id, name) in &acknowledged {
        let url = server.url(&format!("/v1/customers/{id}"));
        let kept = scene.client.get(url).bearer_auth(&scene.token).send().await.unwrap();
        assert_eq!(kept.headers()["etag"], "\"2\"", "changed once");
        assert_eq!(kept.json::<Value>().await.unwrap()["name"], json!(name));
    }
    assert!(!acknowledged.is_empty(), "somebody wrote between the kills");
    server.check();
    let came = format!(
        "{} writes acknowledged, none lost, none doubled, feed exact; back {} ms after the database at the slowest",
        2 * acknowledged.len(),
        slowest.as_millis()
    );
    tell("kills of server and database under load", kills, &came);
}
