use std::io;
use std::sync::{Arc, Mutex};

use serde_json::json;
use sqlx::PgPool;
use tracing_subscriber::fmt::MakeWriter;

use crate::service::Service;

#[derive(Clone, Default)]
struct Written(Arc<Mutex<Vec<u8>>>);

impl io::Write for Written {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl<'a> MakeWriter<'a> for Written {
    type Writer = Self;

    fn make_writer(&'a self) -> Self {
        self.clone()
    }
}

/// Everything that a caller sends in confidence carries this word.
const SECRET: &str = "zanzibar";

#[sqlx::test(migrations = "../../migrations")]
async fn what_callers_send_is_never_logged(pool: PgPool) {
    let written = Written::default();
    let subscriber =
        tracing_subscriber::fmt().json().with_max_level(tracing::Level::DEBUG).with_writer(written.clone());
    let service = Service::over(pool).await;
    let guard = tracing::subscriber::set_default(subscriber.finish());
    let ask = || service.administrator().header("x-trace", SECRET).header("cookie", SECRET);
    ask().secret(SECRET).get("/v1/me").await.assert(401);
    ask().get(&format!("/v1/customers?search={SECRET}")).await.assert(200);
    let body = json!({"id": service.id(), "name": SECRET, "external_id": SECRET});
    ask().post("/v1/customers", body.clone()).await.assert(201);
    let twin = json!({"id": service.id(), "name": SECRET, "external_id": SECRET});
    ask().post("/v1/customers", twin).await.assert(409);
    ask().post("/v1/customers", json!({"name": 7, SECRET: SECRET})).await.assert(422);
    ask().get(&format!("/{SECRET}")).await.assert(404);
    drop(guard);
    let log = String::from_utf8(written.0.lock().unwrap().clone()).unwrap();
    assert!(log.contains("/v1/customers"), "requests are logged");
    let ours: Vec<_> = log.lines().filter(|line| !line.contains("\"target\":\"sqlx")).collect();
    assert!(!ours.join("\n").contains(SECRET), "{}", ours.join("\n"));
}
