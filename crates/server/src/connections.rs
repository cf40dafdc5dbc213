//! The connections that are open, so that those who say nothing cannot shut out those who ask.
//!
//! When no more may be open, the one without a request that has been silent longest gives way; a connection whose request
//! is worked on, or whose answer is on its way, never does.

use std::collections::HashMap;
use std::net::IpAddr;
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::{Duration, Instant};

use api::Network;
use api::client_address::ClientAddress;
use axum::body::{Body, Bytes, HttpBody};
use tokio_util::sync::CancellationToken;

/// How many may be open.
#[derive(Debug, Clone)]
pub struct Bounds {
    pub in_all: usize,
    /// From one address, or one network of IPv6 that is a household's.
    pub by_address: usize,
    /// Proxies speak for many: [`Self::by_address`] does not hold for them.
    pub proxies: Vec<Network>,
}

#[derive(Debug, Clone)]
pub struct Connections(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    bounds: Bounds,
    open: Mutex<Open>,
}

#[derive(Debug, Default)]
struct Open {
    next: u64,
    connections: HashMap<u64, Connection>,
}

#[derive(Debug)]
struct Connection {
    household: IpAddr,
    requests: usize,
    silent_since: Instant,
    has_asked: bool,
    end: CancellationToken,
}

/// One of the open connections, until it is dropped.
#[derive(Debug)]
pub struct OpenConnection {
    connections: Connections,
    number: u64,
    end: CancellationToken,
}

/// A request, until its answer has gone.
#[derive(Debug)]
pub struct OpenRequest {
    connections: Connections,
    number: u64,
}

impl Connections {
    pub fn new(bounds: Bounds) -> Self {
        Self(Arc::new(Inner { bounds, open: Mutex::default() }))
    }

    /// Takes a connection in, at the cost of a silent one where there is no room; none if all are busy.
    pub fn take(&self, peer: IpAddr) -> Option<OpenConnection> {
        let household = ClientAddress(peer.to_canonical()).household();
        let bounds = &self.0.bounds;
        let mut open = self.open();
        if !bounds.proxies.iter().any(|proxy| proxy.contains(peer)) {
            let of_peer = open.connections.values().filter(|other| other.household == household).count();
            if of_peer >= bounds.by_address && !open.end_most_silent(Some(household)) {
                return None;
            }
        }
        if open.connections.len() >= bounds.in_all && !open.end_most_silent(None) {
            return None;
        }
        let (number, end) = (open.next, CancellationToken::new());
        open.next += 1;
        let silent_since = Instant::now();
        let connection =
            Connection { household, requests: 0, silent_since, has_asked: false, end: end.clone() };
        open.connections.insert(number, connection);
        Some(OpenConnection { connections: self.clone(), number, end })
    }

    /// Ends the connection that has been silent longest, if there is one.
    pub fn end_most_silent(&self) -> bool {
        self.open().end_most_silent(None)
    }

    fn open(&self) -> MutexGuard<'_, Open> {
        self.0.open.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Open {
    fn end_most_silent(&mut self, of: Option<IpAddr>) -> bool {
        let silent = self.connections.iter().filter(|(_, connection)| {
            connection.requests == 0 && of.is_none_or(|household| connection.household == household)
        });
        let longest = silent.min_by_key(|(_, connection)| connection.silent_since);
        let Some(number) = longest.map(|(number, _)| *number) else { return false };
        if let Some(connection) = self.connections.remove(&number) {
            connection.end.cancel();
        }
        true
    }
}

impl OpenConnection {
    /// Marks a request as begun.
    pub fn begin_request(&self) -> OpenRequest {
        if let Some(connection) = self.connections.open().connections.get_mut(&self.number) {
            connection.requests += 1;
            connection.has_asked = true;
        }
        OpenRequest { connections: self.connections.clone(), number: self.number }
    }

    /// Waits until the connection has to end: another needs its room, or no whole head came in time.
    pub async fn has_to_end(&self, time_for_a_head: Duration) {
        tokio::select! {
            () = self.end.cancelled() => return,
            () = tokio::time::sleep(time_for_a_head) => {}
        }
        let has_asked = self.connections.open().connections.get(&self.number).map(|own| own.has_asked);
        if has_asked == Some(true) {
            self.end.cancelled().await;
        }
    }
}

impl Drop for OpenConnection {
    fn drop(&mut self) {
        self.connections.open().connections.remove(&self.number);
    }
}

impl OpenRequest {
    /// The answer's body, with which the request ends.
    pub fn until_gone(self, body: Body) -> Body {
        Body::new(AnswerOnItsWay { body, _request: self })
    }
}

impl Drop for OpenRequest {
    fn drop(&mut self) {
        if let Some(connection) = self.connections.open().connections.get_mut(&self.number) {
            connection.requests = connection.requests.saturating_sub(1);
            connection.silent_since = Instant::now();
        }
    }
}

struct AnswerOnItsWay {
    body: Body,
    _request: OpenRequest,
}

impl HttpBody for AnswerOnItsWay {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<hyper::body::Frame<Bytes>, axum::Error>>> {
        Pin::new(&mut self.body).poll_frame(context)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> hyper::body::SizeHint {
        self.body.size_hint()
    }
}

/// Descriptors that the process needs for other than connections: files, signals, the log, a collector of spans.
const OTHER_DESCRIPTORS: usize = 32;

/// How many connections the process's descriptors allow beside so many to the database, where the system tells.
pub fn allowed_by_descriptors(database_connections: u32) -> Option<usize> {
    let limits = std::fs::read_to_string("/proc/self/limits").ok()?;
    let kept = usize::try_from(database_connections).ok()? + OTHER_DESCRIPTORS;
    Some(soft_limit_of_files(&limits)?.saturating_sub(kept).max(1))
}

fn soft_limit_of_files(limits: &str) -> Option<usize> {
    let line = limits.lines().find_map(|line| line.strip_prefix("Max open files"))?;
    line.split_whitespace().next()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn connections(in_all: usize, by_address: usize) -> Connections {
        Connections::new(Bounds { in_all, by_address, proxies: vec!["10.0.0.0/8".parse().unwrap()] })
    }

    fn address(text: &str) -> IpAddr {
        text.parse().unwrap()
    }

    #[test]
    fn the_one_that_is_silent_longest_gives_way_and_one_with_a_request_never() {
        let connections = connections(3, 3);
        let peers = ["192.0.2.1", "192.0.2.2", "192.0.2.3"];
        let open: Vec<_> = peers.iter().map(|peer| connections.take(address(peer)).unwrap()).collect();
        let request = open[0].begin_request();
        let fourth = connections.take(address("192.0.2.4")).unwrap();
        let ended: Vec<_> = open.iter().map(|connection| connection.end.is_cancelled()).collect();
        assert_eq!(ended, [false, true, false]);
        let _requests = (open[2].begin_request(), fourth.begin_request());
        assert!(connections.take(address("192.0.2.5")).is_none(), "all are busy");
        let body = request.until_gone(Body::from("an answer"));
        assert!(connections.take(address("192.0.2.5")).is_none(), "its answer is on its way");
        drop(body);
        assert!(connections.take(address("192.0.2.5")).is_some());
        assert!(open[0].end.is_cancelled());
    }

    #[test]
    fn one_address_gives_way_to_itself_alone_and_a_proxy_speaks_for_many() {
        let connections = connections(100, 2);
        let other = connections.take(address("192.0.2.9")).unwrap();
        let of = |peer: &str| connections.take(address(peer));
        let flood: Vec<_> = (0..50).map(|n| of(&format!("2001:db8::{n:x}")).unwrap()).collect();
        assert_eq!(flood.iter().filter(|connection| !connection.end.is_cancelled()).count(), 2);
        assert!(!other.end.is_cancelled());
        let proxied: Vec<_> = (0..50).map(|_| of("10.0.0.1").unwrap()).collect();
        assert!(proxied.iter().all(|connection| !connection.end.is_cancelled()));
        drop((flood, proxied, other));
        assert!(connections.open().connections.is_empty());
    }

    #[tokio::test]
    async fn who_has_asked_nothing_in_time_has_to_end() {
        let connections = connections(10, 10);
        let silent = connections.take(address("192.0.2.1")).unwrap();
        let asking = connections.take(address("192.0.2.1")).unwrap();
        drop(asking.begin_request());
        silent.has_to_end(Duration::from_millis(1)).await;
        let ended = asking.has_to_end(Duration::from_millis(1));
        let asking = tokio::time::timeout(Duration::from_millis(50), ended);
        assert!(asking.await.is_err(), "its later heads have their own time");
    }

    #[test]
    fn descriptors_bound_connections() {
        let table = "Limit                     Soft Limit           Hard Limit           Units     \n\
                     Max open files            256                  1048576              files     \n";
        assert_eq!(soft_limit_of_files(table), Some(256));
        assert_eq!(soft_limit_of_files("Max open files            unlimited   unlimited   files"), None);
    }
}
