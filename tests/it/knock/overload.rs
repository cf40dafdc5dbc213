//! Ten times more is asked than can be done: what is done stays done in time.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use reqwest::Client;

use super::{UNBOUNDED, tell, times};
use crate::server::Server;

/// What came of a turn.
#[derive(Default)]
struct Came {
    asked: AtomicUsize,
    useful: AtomicUsize,
    refused: AtomicUsize,
    /// Their connection broke before an answer came.
    broken: AtomicUsize,
}

struct Asking {
    client: Client,
    url: String,
    tokens: Vec<String>,
}

impl Asking {
    /// So many clients ask for this long: each at this pace, or again as soon as it was answered.
    async fn turn(&self, clients: usize, pace: Duration, time: Duration) -> Arc<Came> {
        let (came, is_over) = (Arc::new(Came::default()), Arc::new(AtomicBool::new(false)));
        let began = Instant::now();
        let tasks = (0..clients).map(|n| {
            let (came, is_over, client) = (Arc::clone(&came), Arc::clone(&is_over), self.client.clone());
            let (url, token) = (self.url.clone(), self.tokens[n % self.tokens.len()].clone());
            // Not all at one moment.
            let mut due = began + pace * u32::try_from(n).unwrap() / u32::try_from(clients).unwrap();
            tokio::spawn(async move {
                while !is_over.load(Ordering::Relaxed) {
                    tokio::time::sleep_until(due.into()).await;
                    due = (due + pace).max(Instant::now());
                    came.asked.fetch_add(1, Ordering::Relaxed);
                    let answer = client.get(&url).bearer_auth(&token).send().await;
                    let counter = match answer.map(|answer| answer.status().as_u16()) {
                        Ok(200) => &came.useful,
                        Ok(503) => &came.refused,
                        Ok(other) => panic!("answered {other}"),
                        Err(_) => &came.broken,
                    };
                    if !is_over.load(Ordering::Relaxed) {
                        counter.fetch_add(1, Ordering::Relaxed);
                    }
                }
            })
        });
        let tasks: Vec<_> = tasks.collect();
        tokio::time::sleep(time).await;
        is_over.store(true, Ordering::Relaxed);
        for task in tasks {
            task.await.unwrap();
        }
        came
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn ten_fold_overload_leaves_useful_answers() {
    const PLACES: usize = 4;
    /// Sixteen wait for each place: of so many, most find no room to wait either.
    const CROWD: usize = 50 * PLACES;
    const FEW: usize = 3;
    let seconds = times("KNOCK_OVERLOAD_SECONDS", FEW);
    let mut settings = UNBOUNDED.to_vec();
    settings.push(("OVENWRIGHT_CONCURRENCY", "4"));
    // The crowd stands for many addresses: at the bound of one, its own silent connections would be closed under it.
    settings.push(("OVENWRIGHT_CONNECTIONS_PER_ADDRESS", "1000"));
    let server = Server::with_demo_and(&settings).await;
    let asking = Asking {
        client: Client::new(),
        url: server.url("/v1/work-orders?limit=50"),
        tokens: (0..12).map(|_| server.make_token("dispatcher")).collect(),
    };
    let second = Duration::from_secs(1);
    asking.turn(CROWD, second, second).await;
    // By turns, so that what else the machine does falls on both.
    let (mut capacity, mut asked, mut useful, mut refused, mut broken) = (0, 0, 0, 0, 0);
    let (mut ticks_without, mut ticks_under) = (0, 0);
    let ticks = || server.ticks().unwrap_or_default();
    for _ in 0..seconds {
        let began = ticks();
        let done = asking.turn(PLACES, Duration::ZERO, second).await.useful.load(Ordering::Relaxed);
        capacity += done;
        let half = ticks();
        ticks_without += half - began;
        let pace = second * u32::try_from(CROWD).unwrap() / (10 * u32::try_from(done.max(1)).unwrap());
        let came = asking.turn(CROWD, pace, second).await;
        ticks_under += ticks() - half;
        asked += came.asked.load(Ordering::Relaxed);
        useful += came.useful.load(Ordering::Relaxed);
        refused += came.refused.load(Ordering::Relaxed);
        broken += came.broken.load(Ordering::Relaxed);
    }
    assert!(useful > 0, "nothing useful is answered under overload");
    assert!(100 * broken <= asked, "{broken} of {asked} connections broke under overload");
    let came = format!(
        "{useful} useful answers where {capacity} came without overload, {refused} refused, {broken} broken; the service worked {ticks_under} ticks, \
         {ticks_without} without"
    );
    tell("requests of an overload, ten-fold", asked, &came);
    // How much is speed, and asked for where nothing else runs: the bar is a half, and without places it was a fiftieth at most.
    let is_measured = seconds > FEW;
    assert!(
        !is_measured || 2 * useful >= capacity,
        "{useful} useful answers under overload, {capacity} without"
    );
}
