//! The feed across crashes of the database: everything that was acknowledged is told, and told once.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::os::unix::fs::MetadataExt;
use std::path::PathBuf;
use std::process::Command;
use std::time::Duration;

use serde_json::{Value, json};
use sqlx::{Connection, PgConnection};

use crate::knock::tell_beyond;
use crate::server::{Server, new_id};

/// A Postgres of this test's own that waits for the disk, as a company's does; removed when the test ends.
pub struct Cluster {
    name: String,
    pub url: String,
    /// Folders beside it that go with it.
    beside: RefCell<Vec<PathBuf>>,
    has_small_disk: Cell<bool>,
}

impl Cluster {
    pub fn start() -> Self {
        let name = format!("crash-{}", &new_id()[24..]);
        let url = Self::call("start", &name);
        Self { name, url, beside: RefCell::default(), has_small_disk: Cell::default() }
    }

    /// Started on data that `make` puts into the folder that it is given.
    pub fn of_copy(make: impl FnOnce(&str)) -> Self {
        let name = format!("copy-{}", &new_id()[24..]);
        make(local(&name).join("data").to_str().unwrap());
        let url = Self::call("start", &name);
        Self { name, url, beside: RefCell::default(), has_small_disk: Cell::default() }
    }

    /// Moves it to a disk of so many megabytes, where who runs the test may mount one; returns the disk's folder.
    pub fn move_to_small_disk(&self, megabytes: usize) -> Option<PathBuf> {
        let home = local(&self.name);
        Self::call("stop", &self.name);
        let owner = std::fs::metadata(&home).unwrap();
        let whole = self.beside("whole");
        let options = format!("size={megabytes}m,mode=700,uid={},gid={}", owner.uid(), owner.gid());
        let run = |program: &str, arguments: &[&str]| {
            Command::new(program).args(arguments).output().is_ok_and(|done| done.status.success())
        };
        let home_path = home.to_str().unwrap();
        assert!(run("cp", &["-a", home_path, &whole]), "its files are kept beside");
        self.has_small_disk.set(run("mount", &["-t", "tmpfs", "-o", &options, "tmpfs", home_path]));
        if self.has_small_disk.get() {
            assert!(run("cp", &["-a", &format!("{whole}/."), home_path]), "{megabytes} MB hold its files");
        }
        Self::call("start", &self.name);
        self.has_small_disk.get().then_some(home)
    }

    /// Starts it if it does not run, as whatever looks after a company's database does.
    pub fn look_after(&self) {
        Self::call("start", &self.name);
    }

    pub fn crash_and_start_again(&self) {
        Self::call("crash", &self.name);
        Self::call("start", &self.name);
    }

    pub fn restart(&self) {
        Self::call("stop", &self.name);
        Self::call("start", &self.name);
    }

    /// Stops it until after this time; the thread ends when it runs again.
    fn stop_for(&self, time: Duration) -> std::thread::JoinHandle<()> {
        Self::call("stop", &self.name);
        let name = self.name.clone();
        std::thread::spawn(move || {
            std::thread::sleep(time);
            Self::call("start", &name);
        })
    }

    /// Where its files lie.
    pub fn data(&self) -> String {
        local(&self.name).join("data").to_str().unwrap().to_owned()
    }

    /// A folder that is deleted with it.
    pub fn beside(&self, what: &str) -> String {
        let folder = local(&format!("{}-{what}", self.name));
        self.beside.borrow_mut().push(folder.clone());
        folder.to_str().unwrap().to_owned()
    }

    fn call(verb: &str, name: &str) -> String {
        let script = root().join("scripts/cluster");
        let done = Command::new(script).args([verb, name]).output().unwrap();
        assert!(done.status.success(), "{verb}: {}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8_lossy(&done.stdout).trim().to_owned()
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        if self.has_small_disk.get() {
            Self::call("stop", &self.name);
            let _ = Command::new("umount").arg(local(&self.name)).status();
        }
        Self::call("remove", &self.name);
        for folder in self.beside.borrow().iter() {
            let _ = std::fs::remove_dir_all(folder);
        }
    }
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// Where scripts/cluster keeps what is of this checkout alone.
fn local(name: &str) -> PathBuf {
    root().join(".local").join(name)
}

/// Follows the feed as a phone does.
struct Reader {
    cursor: String,
    told: BTreeMap<String, usize>,
}

impl Reader {
    async fn page(server: &Server, token: &str, cursor: Option<&str>) -> Option<Value> {
        let since = cursor.map_or_else(String::new, |cursor| format!("?cursor={cursor}"));
        let url = server.url(&format!("/v1/changes{since}"));
        let answer = server.client.get(url).bearer_auth(token).send().await.ok()?;
        if answer.status() == 200 { answer.json().await.ok() } else { None }
    }

    /// Reads on; while the database is away there is nothing to read.
    async fn read(&mut self, server: &Server, token: &str) {
        let Some(page) = Self::page(server, token, Some(&self.cursor)).await else { return };
        assert_eq!(page["start_over"], json!(false), "a crash that lost nothing is no reason to start over");
        for item in page["items"].as_array().unwrap() {
            *self.told.entry(item["subject_id"].as_str().unwrap().to_owned()).or_default() += 1;
        }
        page["cursor"].as_str().unwrap().clone_into(&mut self.cursor);
    }
}

async fn ask(server: &Server, statement: &'static str) {
    let mut connection = PgConnection::connect(server.database_url()).await.unwrap();
    sqlx::raw_sql(statement).execute(&mut connection).await.unwrap();
}

/// The number that the next transaction will have.
async fn next_number(server: &Server) -> i64 {
    let mut connection = PgConnection::connect(server.database_url()).await.unwrap();
    let statement = "SELECT (pg_snapshot_xmax(pg_current_snapshot())::text)::bigint";
    sqlx::query_scalar(statement).fetch_one(&mut connection).await.unwrap()
}

#[tokio::test]
async fn crashes_amid_refused_writes_lose_and_double_nothing_in_the_feed() {
    const CRASHES: usize = 4;
    const EACH: usize = 12;
    let cluster = Cluster::start();
    let server = Server::empty_on(&cluster.url, &[]).await;
    // What no commit waits for does not reach the disk by itself: the numbers of refused writes are given out again.
    ask(&server, "ALTER SYSTEM SET wal_writer_delay = '10s'").await;
    ask(&server, "SELECT pg_reload_conf()").await;
    let token = server.make_token("administrator");
    let first = Reader::page(&server, &token, None).await.expect("the feed's beginning");
    let mut reader = Reader { cursor: first["cursor"].as_str().unwrap().to_owned(), told: BTreeMap::new() };
    let (mut acknowledged, mut given_again) = (Vec::new(), 0);
    for crash in 0..=CRASHES {
        for turn in 0..EACH {
            let id = new_id();
            let create = async |id: &str, number: String| {
                let body = json!({"id": id, "name": "Bay", "external_id": number});
                let request = server.client.post(server.url("/v1/customers")).bearer_auth(&token).json(&body);
                request.send().await.ok().map(|answer| answer.status().as_u16())
            };
            let taken = format!("{crash}-{turn}");
            // What the database was not back for is sent again, as a phone would.
            let mut made = None;
            for _ in 0..400 {
                made = create(&id, taken.clone()).await;
                if matches!(made, Some(200 | 201)) {
                    break;
                }
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            assert!(matches!(made, Some(200 | 201)), "{made:?}");
            acknowledged.push(id);
            // Refused by the schema: its transaction has a number, and never commits.
            for _ in 0..3 {
                assert_eq!(create(&new_id(), taken.clone()).await, Some(409));
            }
            reader.read(&server, &token).await;
        }
        if crash < CRASHES {
            let before = next_number(&server).await;
            cluster.crash_and_start_again();
            given_again += usize::from(next_number(&server).await < before);
        }
    }
    // What the database's own writer brought to the disk in time is not given out again.
    assert!(given_again > 0, "no crash gave numbers out again: this tries nothing");
    for _ in 0..400 {
        reader.read(&server, &token).await;
        if acknowledged.iter().all(|id| reader.told.contains_key(id)) {
            break;
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let lost: Vec<_> = acknowledged.iter().filter(|id| !reader.told.contains_key(*id)).collect();
    assert!(lost.is_empty(), "{} of {} acknowledged items were never told", lost.len(), acknowledged.len());
    let doubled: Vec<_> = reader.told.iter().filter(|(_, times)| **times > 1).collect();
    assert!(doubled.is_empty(), "told more than once: {doubled:?}");
    let came = format!("{} items, none missed, none twice, though numbers came again", acknowledged.len());
    tell_beyond("crashes of the database amid refused writes", CRASHES, &came);
}

#[tokio::test]
async fn a_cursor_outlives_a_restart_of_the_service() {
    let mut server = Server::empty(&[]).await;
    let token = server.make_token("administrator");
    let first = Reader::page(&server, &token, None).await.unwrap();
    server.kill_and_start_again();
    let again =
        Reader::page(&server, &token, first["cursor"].as_str()).await.expect("the cursor is known still");
    assert_eq!(again["start_over"], json!(false));
}

#[tokio::test]
async fn a_service_that_starts_before_its_database_waits_for_it() {
    /// Longer than a statement waits for a connection.
    const AWAY: Duration = Duration::from_secs(7);
    let cluster = Cluster::start();
    let mut server = Server::empty_on(&cluster.url, &[]).await;
    let token = server.make_token("administrator");
    let back = cluster.stop_for(AWAY);
    server.kill_and_start_again();
    back.join().unwrap();
    assert!(Reader::page(&server, &token, None).await.is_some(), "it serves as if nothing had been");
}
