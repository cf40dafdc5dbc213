//! Backups: what was acknowledged is had back, of any moment, table by table; and the change feed of a restored copy starts
//! over. The tools are scripts/backup and scripts/restore as an operator calls them.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::Command;
use std::time::Duration;

use serde_json::{Value, json};
use sqlx::{Connection, PgConnection};

use crate::crash::Cluster;
use crate::knock::tell_beyond;
use crate::server::{Server, new_id};

/// Calls one of the repository's scripts.
fn call(script: &str, arguments: &[&str]) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../scripts").join(script);
    let done = Command::new(path).args(arguments).env("PGUSER", "ovenwright").output().unwrap();
    assert!(done.status.success(), "{script} {arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
}

/// Whether the program is not here; continuous integration installs it, and may not go without.
fn is_missing(program: &str) -> bool {
    let found = Command::new("sh")
        .args(["-c", "PATH=$PATH:$(ls -d /usr/lib/postgresql/*/bin | tail -n 1); command -v \"$0\"", program])
        .output()
        .unwrap();
    assert!(found.status.success() || std::env::var_os("CI").is_none(), "{program} is not installed");
    !found.status.success()
}

/// A hash of all rows of each table.
async fn tables(url: &str) -> BTreeMap<String, String> {
    let mut connection = PgConnection::connect(url).await.unwrap();
    let statements: Vec<(String, String)> = sqlx::query_as(
        "SELECT table_name::text, format('SELECT count(*) || '' rows, '' || md5(coalesce(string_agg(t::text, chr(10) ORDER BY t::text), ''''))
             FROM ONLY %I AS t', table_name)
         FROM information_schema.tables WHERE table_schema = 'public' AND table_type = 'BASE TABLE'",
    )
    .fetch_all(&mut connection)
    .await
    .unwrap();
    let mut hashes = BTreeMap::new();
    for (table, statement) in statements {
        let statement = sqlx::AssertSqlSafe(statement);
        let hash: String = sqlx::query_scalar(statement).fetch_one(&mut connection).await.unwrap();
        hashes.insert(table, hash);
    }
    hashes
}

async fn ask(url: &str, question: &'static str) -> String {
    let mut connection = PgConnection::connect(url).await.unwrap();
    sqlx::query_scalar(question).fetch_one(&mut connection).await.unwrap()
}

/// Until the copy has read all of its log.
async fn open(url: &str) {
    for _ in 0..600 {
        if let Ok(mut connection) = PgConnection::connect(url).await {
            let reads = sqlx::query_scalar("SELECT pg_is_in_recovery()").fetch_one(&mut connection).await;
            if matches!(reads, Ok(false)) {
                return;
            }
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    panic!("the restored copy did not open");
}

async fn take_in(server: &Server, token: &str) -> String {
    let id = new_id();
    let request = server.client.post(server.url("/v1/customers")).bearer_auth(token);
    let answer = request.json(&json!({"id": id, "name": "Bay"})).send().await.unwrap();
    assert_eq!(answer.status(), 201);
    id
}

async fn status(server: &Server, token: &str, path: &str) -> u16 {
    let request = server.client.get(server.url(path)).bearer_auth(token);
    request.send().await.unwrap().status().as_u16()
}

async fn changes(server: &Server, token: &str, query: &str) -> Value {
    let request = server.client.get(server.url(&format!("/v1/changes{query}"))).bearer_auth(token);
    request.send().await.unwrap().json().await.unwrap()
}

#[tokio::test]
async fn a_backup_gives_back_every_table_and_any_moment() {
    if is_missing("pgbackrest") {
        return;
    }
    let original = Cluster::start();
    let server = Server::with_demo_on(&original.url).await;
    let folder = original.beside("backups");
    call("backup", &["set-up", &original.data(), &folder]);
    original.restart();
    call("backup", &["take", &folder]);

    // The tool compares whole seconds: a moment in that of the copy's end would lie before it.
    tokio::time::sleep(Duration::from_millis(1100)).await;
    let token = server.token("administrator");
    let before = take_in(&server, &token).await;
    let cursor = changes(&server, &token, "").await["cursor"].as_str().unwrap().to_owned();
    let moment = ask(server.database_url(), "SELECT clock_timestamp()::text").await;
    let after = take_in(&server, &token).await;
    let kept = tables(server.database_url()).await;
    let segment = ask(server.database_url(), "SELECT pg_walfile_name(pg_switch_wal())").await;
    while ask(server.database_url(), "SELECT coalesce(last_archived_wal, '') FROM pg_stat_archiver").await
        < segment
    {
        tokio::time::sleep(Duration::from_millis(50)).await;
    }

    let all = Cluster::of_copy(|data| call("restore", &["files", &folder, data]));
    open(&all.url).await;
    let copy = server.on_copy(&all.url);
    // What tells lives of the database apart is changed by the first connection to the copy.
    let mut given_back = tables(copy.database_url()).await;
    given_back.insert("database_epoch".to_owned(), kept["database_epoch"].clone());
    assert_eq!(given_back, kept);
    assert_eq!(status(&copy, &token, &format!("/v1/customers/{after}")).await, 200);
    let page = changes(&copy, &token, &format!("?cursor={cursor}")).await;
    assert_eq!(page["start_over"], json!(true), "{page}");

    let earlier = Cluster::of_copy(|data| call("restore", &["files", &folder, data, "--until", &moment]));
    open(&earlier.url).await;
    let copy = server.on_copy(&earlier.url);
    assert_eq!(status(&copy, &token, &format!("/v1/customers/{before}")).await, 200);
    assert_eq!(status(&copy, &token, &format!("/v1/customers/{after}")).await, 404);
    let page = changes(&copy, &token, &format!("?cursor={cursor}")).await;
    assert_eq!(page["start_over"], json!(true), "{page}");
    copy.check();
    tell_beyond(
        "tables compared after a restore of the demo company",
        kept.len(),
        "all equal; a moment between two writes too",
    );
}

#[tokio::test]
async fn a_dump_moves_every_table_to_another_database() {
    if is_missing("pg_dump") {
        return;
    }
    // A cluster of its own: while the dump is read in, the change feeds of all databases of a server wait.
    let cluster = Cluster::start();
    let server = Server::with_demo_on(&cluster.url).await;
    let dump = std::env::temp_dir().join(format!("{}.dump", new_id()));
    let kept = tables(server.database_url()).await;
    call("backup", &["dump", server.database_url(), dump.to_str().unwrap()]);
    let token = server.token("administrator");
    let cursor = changes(&server, &token, "").await["cursor"].as_str().unwrap().to_owned();
    let empty = server.empty_database_beside().await;
    call("restore", &["dump", dump.to_str().unwrap(), &empty]);
    std::fs::remove_file(&dump).unwrap();
    assert_eq!(tables(&empty).await, kept);
    tell_beyond("tables compared after a dump's move", kept.len(), "all equal");
    let moved = server.on_database(&empty);
    let page = changes(&moved, &token, &format!("?cursor={cursor}")).await;
    assert_eq!(page["start_over"], json!(true), "another database of the same server: {page}");
}
