//! The database's disk is full: writes are refused and say why, nothing is half-written, reads go on, and it is as before when
//! there is room again.

use std::io::Write;
use std::time::{Duration, Instant};

use reqwest::StatusCode;
use serde_json::{Value, json};

use super::{UNBOUNDED, tell};
use crate::crash::Cluster;
use crate::server::{Server, new_id};

const MEGABYTES: usize = 220;
/// So many are refused one after the other before it is said to be full.
const REFUSED_IN_A_ROW: usize = 20;

/// Takes a customer in; returns his id, the answer's status, if there was one, and its detail.
async fn create(server: &Server, token: &str) -> (String, Option<StatusCode>, String) {
    let id = new_id();
    let body = json!({"id": id, "name": format!("Bay {}", "x".repeat(150))});
    let request = server.client.post(server.url("/v1/customers")).bearer_auth(token).json(&body);
    let Ok(answer) = request.timeout(Duration::from_secs(30)).send().await else {
        return (id, None, String::new());
    };
    let status = answer.status();
    let body: Value = answer.json().await.unwrap_or_default();
    (id, Some(status), body["detail"].as_str().unwrap_or_default().to_owned())
}

#[tokio::test]
async fn a_full_disk_refuses_writes_with_a_reason_and_loses_nothing() {
    let cluster = Cluster::start();
    let server = Server::empty_on(&cluster.url, &UNBOUNDED).await;
    let token = server.make_token("administrator");
    let Some(disk) = cluster.move_to_small_disk(MEGABYTES) else {
        eprintln!("no disk may be mounted here: not tried");
        return;
    };
    let until_back = Instant::now();
    let (mut kept, mut refused, mut unanswered) = (Vec::new(), Vec::new(), 0);
    while kept.is_empty() {
        assert!(until_back.elapsed() < Duration::from_mins(1), "it never came back after the move");
        let (id, status, _) = create(&server, &token).await;
        if status == Some(StatusCode::CREATED) {
            kept.push(id);
        }
    }
    let first_used_later = server.make_token("dispatcher");
    let filler = disk.join("filler");
    let mut file = std::fs::File::create(&filler).unwrap();
    let block = vec![0; 1 << 16];
    while file.write_all(&block).is_ok() {}
    while file.write_all(&[0]).is_ok() {}
    drop(file);

    let (mut in_a_row, mut with_the_reason) = (0, 0);
    for _ in 0..20_000 {
        let (id, status, detail) = create(&server, &token).await;
        match status {
            Some(StatusCode::CREATED) => {
                kept.push(id);
                in_a_row = 0;
            }
            Some(StatusCode::SERVICE_UNAVAILABLE) => {
                in_a_row += 1;
                if detail.contains("disk is full") {
                    with_the_reason += 1;
                    refused.push(id);
                }
            }
            None => unanswered += 1,
            Some(other) => panic!("{other}: {detail}"),
        }
        if in_a_row == REFUSED_IN_A_ROW {
            break;
        }
    }
    assert_eq!(in_a_row, REFUSED_IN_A_ROW, "{} were taken on a full disk", kept.len());
    assert!(with_the_reason > 0, "nobody was told that the disk is full");
    // What a read notes in passing, as the day of a token's use, is no reason to refuse it.
    let url = server.url(&format!("/v1/customers/{}", kept[0]));
    let read = server.client.get(url).bearer_auth(&first_used_later).send().await.unwrap();
    assert_eq!(read.status(), 200, "{}", read.text().await.unwrap());

    std::fs::remove_file(&filler).unwrap();
    cluster.look_after();
    let room = Instant::now();
    loop {
        let (id, status, detail) = create(&server, &token).await;
        if status == Some(StatusCode::CREATED) {
            kept.push(id);
            break;
        }
        assert!(room.elapsed() < Duration::from_mins(1), "still refused when there is room: {detail}");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let back = room.elapsed();
    for (ids, there) in [(&kept, StatusCode::OK), (&refused, StatusCode::NOT_FOUND)] {
        for id in ids {
            let url = server.url(&format!("/v1/customers/{id}"));
            let answer = server.client.get(url).bearer_auth(&token).send().await.unwrap();
            assert_eq!(answer.status(), there, "{id}");
        }
    }
    server.check();
    let came = format!(
        "{} refused with the reason, {unanswered} unanswered; {} kept, none lost, none half-written; back {} ms after there was room",
        with_the_reason,
        kept.len(),
        back.as_millis()
    );
    tell("writes on a full disk", kept.len() + refused.len() + unanswered, &came);
}
