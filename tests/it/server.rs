//! The server under test: started from the built binary, stopped when the test ends.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

use reqwest::{Client, Response};
use serde_json::Value;
use sha2::{Digest, Sha256};
use sqlx::{Connection, PgConnection};
use uuid::Uuid;

pub struct Server {
    child: Child,
    database_url: String,
    pub address: String,
    pub sign_ins: PathBuf,
    pub client: Client,
    settings: Vec<(String, String)>,
}

/// The binary beside the test's own: built by the same run.
pub fn binary() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    let binary = own.parent().unwrap().parent().unwrap().join("ovenwright");
    assert!(binary.exists(), "{} is not built; run the tests of the whole workspace", binary.display());
    binary
}

impl Server {
    /// On a new database with the stories of the demo company in it, on the days as they are written.
    pub async fn with_demo() -> Self {
        Self::with_demo_as_of("2026-04-22").await
    }

    /// On a new database with the stories of the demo company in it, ending by that day.
    pub async fn with_demo_as_of(day: &str) -> Self {
        Self::start(&shared_cluster(), Some(day), &[]).await
    }

    /// On a new database with nobody in it, with these environment variables; `DESCRIPTORS` is how many files it may have open.
    pub async fn empty(settings: &[(&str, &str)]) -> Self {
        Self::start(&shared_cluster(), None, settings).await
    }

    /// [`Self::with_demo`] with these environment variables.
    pub async fn with_demo_and(settings: &[(&str, &str)]) -> Self {
        Self::start(&shared_cluster(), Some("2026-04-22"), settings).await
    }

    /// [`Self::with_demo`] in this cluster.
    pub async fn with_demo_on(cluster: &str) -> Self {
        Self::start(cluster, Some("2026-04-22"), &[]).await
    }

    /// Another service on the copy of this one's database that a cluster has.
    pub fn on_copy(&self, cluster: &str) -> Self {
        let name = self.database_url.split('?').next().unwrap().rsplit('/').next().unwrap();
        self.on_database(&beside(cluster, name))
    }

    /// Another service on that database.
    pub fn on_database(&self, database_url: &str) -> Self {
        let (child, address) = serve(database_url, &self.settings);
        let (sign_ins, settings) = (std::env::temp_dir().join(new_id()), self.settings.clone());
        Self {
            child,
            database_url: database_url.to_owned(),
            address,
            sign_ins,
            client: Client::new(),
            settings,
        }
    }

    /// The URL of a new database of the same cluster, with nothing in it.
    pub async fn empty_database_beside(&self) -> String {
        let name = format!("acceptance_{}", Uuid::new_v4().simple());
        let mut connection = PgConnection::connect(&self.database_url).await.unwrap();
        let create = sqlx::AssertSqlSafe(format!("CREATE DATABASE {name}"));
        sqlx::raw_sql(create).execute(&mut connection).await.unwrap();
        beside(&self.database_url, &name)
    }

    pub fn database_url(&self) -> &str {
        &self.database_url
    }

    /// [`Self::empty`] in this cluster.
    pub async fn empty_on(cluster: &str, settings: &[(&str, &str)]) -> Self {
        Self::start(cluster, None, settings).await
    }

    async fn start(cluster: &str, demo_as_of: Option<&str>, settings: &[(&str, &str)]) -> Self {
        let name = format!("acceptance_{}", Uuid::new_v4().simple());
        let mut connection = PgConnection::connect(cluster).await.unwrap();
        let create = sqlx::AssertSqlSafe(format!("CREATE DATABASE {name}"));
        sqlx::raw_sql(create).execute(&mut connection).await.unwrap();
        let database_url = beside(cluster, &name);
        let sign_ins = std::env::temp_dir().join(&name);
        let demo = demo_as_of.map(|day| {
            vec!["demo", "--stories-only", "--as-of", day, "--sign-ins", sign_ins.to_str().unwrap()]
        });
        for arguments in std::iter::once(vec!["migrate"]).chain(demo) {
            let done =
                Command::new(binary()).args(arguments).env("DATABASE_URL", &database_url).output().unwrap();
            assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        }
        let own = |(name, value): &(&str, &str)| ((*name).to_owned(), (*value).to_owned());
        let settings: Vec<_> = settings.iter().map(own).collect();
        let (child, address) = serve(&database_url, &settings);
        Self { child, database_url, address, sign_ins, client: Client::new(), settings }
    }

    /// As a power cut would, then again.
    pub fn kill_and_start_again(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        (self.child, self.address) = serve(&self.database_url, &self.settings);
    }

    /// The processor's ticks that it has taken, where the system tells.
    pub fn ticks(&self) -> Option<u64> {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.child.id())).ok()?;
        // After the name, which may hold spaces, the twelfth and thirteenth are its own and the system's for it.
        let after_name = stat.rsplit_once(')')?.1;
        let ticks: Vec<u64> =
            after_name.split_whitespace().skip(11).take(2).map_while(|word| word.parse().ok()).collect();
        Some(ticks.iter().sum())
    }

    /// Holds the database against its rules, as an operator does.
    pub fn check(&self) {
        let checked =
            Command::new(binary()).arg("check").env("DATABASE_URL", &self.database_url).output().unwrap();
        let said = [checked.stdout, checked.stderr].concat();
        assert!(checked.status.success(), "{}", String::from_utf8_lossy(&said));
    }

    /// The token of the first demo person of a role.
    pub fn token(&self, role: &str) -> String {
        let lines = std::fs::read_to_string(&self.sign_ins).unwrap();
        let line = lines.lines().find(|line| line.starts_with(role)).unwrap();
        line.rsplit('\t').next().unwrap().to_owned()
    }

    /// A token of a new person of this role.
    pub fn make_token(&self, role: &str) -> String {
        let arguments = ["token", "--role", role, "--name", "Somebody of the test"];
        let made =
            Command::new(binary()).args(arguments).env("DATABASE_URL", &self.database_url).output().unwrap();
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        String::from_utf8(made.stdout).unwrap().trim().to_owned()
    }

    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    pub async fn get(&self, role: &str, path: &str) -> Response {
        self.client.get(self.url(path)).bearer_auth(self.token(role)).send().await.unwrap()
    }

    pub async fn json(&self, role: &str, path: &str) -> Value {
        let response = self.get(role, path).await;
        assert_eq!(response.status(), 200, "{path}");
        response.json().await.unwrap()
    }

    pub async fn post(&self, role: &str, path: &str, body: &Value) -> Response {
        let request = self.client.post(self.url(path)).bearer_auth(self.token(role)).json(body);
        request.send().await.unwrap()
    }

    /// Posts and expects a status; returns the answer.
    pub async fn posted(&self, role: &str, path: &str, status: u16, body: Value) -> Value {
        let response = self.post(role, path, &body).await;
        let got = response.status();
        let answer: Value = response.json().await.unwrap();
        assert_eq!(got, status, "{path}: {answer}");
        answer
    }

    /// Moves something to another state, with the version that it has now.
    pub async fn act(&self, role: &str, resource: &str, action: &str, body: Value) -> Response {
        let read = self.get(role, resource).await;
        let tag = read.headers()["etag"].clone();
        let url = self.url(&format!("{resource}/actions/{action}"));
        let request = self.client.post(url).bearer_auth(self.token(role)).header("if-match", tag).json(&body);
        request.send().await.unwrap()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_file(&self.sign_ins);
    }
}

/// Started until it serves, as whatever looks after a service does: on a busy machine the database may not answer in time.
fn serve(database_url: &str, settings: &[(String, String)]) -> (Child, String) {
    const TRIES: usize = 5;
    let mut said = String::new();
    for _ in 0..TRIES {
        match try_to_serve(database_url, settings) {
            Ok(serving) => return serving,
            Err(last_words) => said = last_words,
        }
    }
    panic!("the server ended before it listened: {said}");
}

/// The child and its address, or what it said last. `SERVICE_ON` may put it on processors of its own.
fn try_to_serve(database_url: &str, settings: &[(String, String)]) -> Result<(Child, String), String> {
    let mut child = Command::new("sh")
        .args(["-c", "ulimit -n ${DESCRIPTORS:-$(ulimit -n)}; exec $SERVICE_ON \"$0\" \"$@\""])
        .arg(binary())
        .args(["serve", "--listen", "127.0.0.1:0"])
        .env("DATABASE_URL", database_url)
        .envs(settings.iter().cloned())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut log = BufReader::new(child.stderr.take().unwrap()).lines();
    let mut last_words = String::new();
    let address = loop {
        let Some(line) = log.next() else {
            let _ = child.wait();
            return Err(last_words);
        };
        let line = line.unwrap();
        let entry: Value = serde_json::from_str(&line).unwrap_or_default();
        if let Some(address) = entry["fields"]["address"].as_str() {
            break address.to_owned();
        }
        last_words = line;
    };
    // Somebody must read on, or the server stops at a full pipe.
    std::thread::spawn(move || log.for_each(drop));
    Ok((child, address))
}

fn shared_cluster() -> String {
    std::env::var("DATABASE_URL").expect("DATABASE_URL names the tests' cluster")
}

/// The URL of another database of the same cluster.
fn beside(cluster: &str, name: &str) -> String {
    let (head, query) = cluster.split_once('?').unwrap_or((cluster, ""));
    let slash = head.rfind('/').unwrap();
    let query = if query.is_empty() { String::new() } else { format!("?{query}") };
    format!("{}/{name}{query}", &head[..slash])
}

/// The identifier that the demo company's script gives to a name.
pub fn demo_id(name: &str) -> String {
    const FIRST_MOMENT: u64 = 1_767_600_000_000;
    let mut random = [0; 10];
    random.copy_from_slice(&Sha256::digest(name.as_bytes())[..10]);
    uuid::Builder::from_unix_timestamp_millis(FIRST_MOMENT, &random).into_uuid().to_string()
}

/// A fresh identifier.
pub fn new_id() -> String {
    Uuid::now_v7().to_string()
}
