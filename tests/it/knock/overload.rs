//! Ten times more is asked than can be done: what is done stays done in time.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use super::{UNBOUNDED, tell, times};
use crate::server::Server;

/// Useful answers and refusals in this time, of so many clients that ask again at once.
async fn ask(server: &Server, tokens: &[String], clients: usize, time: Duration) -> (usize, usize) {
    let (done, refused) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
    let is_over = Arc::new(AtomicBool::new(false));
    let mut tasks = Vec::new();
    let client = reqwest::Client::new();
    for n in 0..clients {
        let (done, refused, is_over) = (Arc::clone(&done), Arc::clone(&refused), Arc::clone(&is_over));
        let client = client.clone();
        let (url, token) = (server.url("/v1/work-orders?limit=50"), tokens[n % tokens.len()].clone());
        tasks.push(tokio::spawn(async move {
            while !is_over.load(Ordering::Relaxed) {
                match client.get(&url).bearer_auth(&token).send().await.map(|answer| answer.status().as_u16())
                {
                    Ok(200) => {
                        done.fetch_add(1, Ordering::Relaxed);
                    }
                    Ok(503) => {
                        refused.fetch_add(1, Ordering::Relaxed);
                    }
                    other => panic!("{other:?}"),
                }
            }
        }));
    }
    tokio::time::sleep(time).await;
    is_over.store(true, Ordering::Relaxed);
    let counted = (done.load(Ordering::Relaxed), refused.load(Ordering::Relaxed));
    for task in tasks {
        task.await.unwrap();
    }
    counted
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn ten_fold_overload_leaves_half_of_the_useful_answers_at_least() {
    const PLACES: usize = 4;
    let seconds = times("KNOCK_OVERLOAD_SECONDS", 2);
    let mut settings = UNBOUNDED.to_vec();
    settings.push(("OVENWRIGHT_CONCURRENCY", "4"));
    let server = Server::with_demo_and(&settings).await;
    let tokens: Vec<String> = (0..12).map(|_| server.make_token("dispatcher")).collect();
    let time = Duration::from_secs(seconds as u64);
    ask(&server, &tokens, PLACES, Duration::from_millis(300)).await;
    let (capacity, _) = ask(&server, &tokens, PLACES, time).await;
    // Sixteen wait for each place, so that most of these find no room to wait either.
    let (useful, refused) = ask(&server, &tokens, 10 * PLACES * 5, time).await;
    assert!(refused > 0, "this is no overload");
    assert!(2 * useful >= capacity, "{useful} useful answers under overload, {capacity} without");
    let came = format!("{useful} useful answers where {capacity} came without overload; {refused} refused");
    tell("overload, ten-fold and more", useful + refused, &came);
}
