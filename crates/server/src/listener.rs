//! Accepts connections within bounds, with a time limit for a request's head, and stops in bounded time.

use std::convert::Infallible;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use api::Places;
use axum::Router;
use axum::extract::ConnectInfo;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use hyper_util::server::graceful::{GracefulShutdown, Watcher};
use hyper_util::service::TowerToHyperService;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::signal::unix::{SignalKind, signal};
use tower::ServiceExt;

use crate::connections::{Bounds, Connections, OpenConnection};
use crate::heard::Heard;
use crate::tls::Certificate;
use crate::wiring::Failure;

/// For a request's head, and what stands before the first: the preface of HTTP/2.
const TIME_FOR_A_HEAD: Duration = Duration::from_secs(10);
/// The interface itself refuses far fewer, with a problem; only beyond this hyper refuses without one.
const MOST_HEADERS: usize = 1000;

/// Where and how is listened.
pub struct Listening {
    pub address: SocketAddr,
    /// With it TLS is spoken, and nothing else.
    pub certificate: Option<Certificate>,
    pub bounds: Bounds,
    /// A stop waits for open requests so long.
    pub patience: Duration,
}

/// What every connection shares.
#[derive(Clone)]
struct House {
    router: Router,
    places: Places,
    certificate: Option<Certificate>,
    time_for_a_head: Duration,
}

/// Serves until told to stop, then calls `on_stop` and lets open requests end.
pub async fn serve(
    listening: Listening,
    router: Router,
    places: &Places,
    on_stop: impl FnOnce(),
) -> Result<(), Failure> {
    let Listening { address, certificate, bounds, patience } = listening;
    let listener = TcpListener::bind(address).await.map_err(|source| Failure::Listen { address, source })?;
    let address = listener.local_addr().map_err(|source| Failure::Listen { address, source })?;
    tracing::info!(%address, tls = certificate.is_some(), "listening");
    let house = House { router, places: places.clone(), certificate, time_for_a_head: TIME_FOR_A_HEAD };
    let connections = Connections::new(bounds);
    let graceful = GracefulShutdown::new();
    let mut stop = Box::pin(stop_signal()?);
    loop {
        tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok((stream, peer)) => {
                    if let Some(open) = connections.take(peer.ip()) {
                        attend(stream, peer, open, house.clone(), &graceful);
                    } else {
                        tracing::debug!(%peer, "a connection was refused: no more may be open");
                    }
                }
                Err(error) => {
                    // Out of file descriptors, as a rule: a silent connection gives its own.
                    tracing::warn!(%error, "a connection could not be accepted");
                    connections.end_most_silent();
                    tokio::time::sleep(Duration::from_millis(50)).await;
                }
            },
            () = &mut stop => break,
        }
    }
    drop(listener);
    on_stop();
    tracing::info!("stopping");
    if tokio::time::timeout(patience, graceful.shutdown()).await.is_err() {
        tracing::warn!("connections were still open when the time to stop ran out");
    }
    Ok(())
}

fn attend(
    stream: TcpStream,
    peer: SocketAddr,
    open: OpenConnection,
    house: House,
    graceful: &GracefulShutdown,
) {
    if let Err(error) = stream.set_nodelay(true) {
        tracing::debug!(%error, "TCP_NODELAY could not be set");
    }
    let open = Arc::new(open);
    let watcher = graceful.watcher();
    let time_for_a_head = house.time_for_a_head;
    let attended = Arc::clone(&open);
    let connection = async move {
        match house.certificate.clone() {
            None => converse(stream, peer, attended, house, watcher).await,
            Some(certificate) => match certificate.accept(stream).await {
                Ok(stream) => converse(stream, peer, attended, house, watcher).await,
                Err(error) => tracing::debug!(%peer, %error, "no TLS was agreed on"),
            },
        }
    };
    tokio::spawn(async move {
        tokio::select! {
            () = connection => {}
            () = open.has_to_end(time_for_a_head) => {
                tracing::debug!(%peer, "a silent connection was closed");
            }
        }
    });
}

/// Answers the requests of one connection until it ends.
async fn converse(
    stream: impl AsyncRead + AsyncWrite + Unpin + Send + 'static,
    peer: SocketAddr,
    open: Arc<OpenConnection>,
    house: House,
    watcher: Watcher,
) {
    let House { router, places, time_for_a_head, .. } = house;
    let service = tower::service_fn(move |request: axum::http::Request<hyper::body::Incoming>| {
        let under_way = open.begin_request();
        let (mut request, heard) = Heard::of(request);
        let (refusal, router) = (api::turned_away(&places, &request), router.clone());
        request.extensions_mut().insert(ConnectInfo(peer));
        async move {
            let answer = match refusal {
                Some(refusal) => refusal,
                None => router.oneshot(request).await?,
            };
            Ok::<_, Infallible>(heard.or_close(answer).map(|body| under_way.until_gone(body)))
        }
    });
    let mut builder = Builder::new(TokioExecutor::new());
    builder.http1().timer(TokioTimer::new()).header_read_timeout(time_for_a_head).max_headers(MOST_HEADERS);
    builder.http2().timer(TokioTimer::new()).keep_alive_interval(Duration::from_secs(30));
    let connection =
        builder.serve_connection(TokioIo::new(stream), TowerToHyperService::new(service)).into_owned();
    if let Err(error) = watcher.watch(connection).await {
        tracing::debug!(%error, "a connection ended badly");
    }
}

fn stop_signal() -> Result<impl Future<Output = ()>, Failure> {
    let failed = |error: std::io::Error| Failure::Other(format!("signals cannot be waited for: {error}"));
    let mut interrupt = signal(SignalKind::interrupt()).map_err(failed)?;
    let mut terminate = signal(SignalKind::terminate()).map_err(failed)?;
    Ok(async move {
        tokio::select! {
            _ = interrupt.recv() => {}
            _ = terminate.recv() => {}
        }
    })
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    use super::*;

    /// A client who has sent this and then nothing, where a head may take so long; the server stops when the second goes.
    async fn client_who_sent(sent: &[u8], time_for_a_head: Duration) -> (TcpStream, GracefulShutdown) {
        client_of(None, sent, time_for_a_head).await
    }

    async fn client_of(
        certificate: Option<Certificate>,
        sent: &[u8],
        time_for_a_head: Duration,
    ) -> (TcpStream, GracefulShutdown) {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let mut client = TcpStream::connect(listener.local_addr().unwrap()).await.unwrap();
        let (stream, peer) = listener.accept().await.unwrap();
        let bounds = Bounds { in_all: 1, by_address: 1, proxies: Vec::new() };
        let open = Connections::new(bounds).take(peer.ip()).unwrap();
        let running = GracefulShutdown::new();
        let places = Places::new(1, Duration::ZERO);
        let house = House { router: Router::new(), places, certificate, time_for_a_head };
        attend(stream, peer, open, house, &running);
        client.write_all(sent).await.unwrap();
        (client, running)
    }

    /// What such a client gets until the connection ends.
    async fn answer_to(sent: &[u8], time_for_a_head: Duration) -> Vec<u8> {
        let (mut client, _running) = client_who_sent(sent, time_for_a_head).await;
        let mut answer = Vec::new();
        let closed = tokio::time::timeout(Duration::from_secs(20), client.read_to_end(&mut answer)).await;
        drop(closed.expect("the connection is closed, by its end or by a reset"));
        answer
    }

    #[tokio::test]
    async fn a_connection_that_says_nothing_or_half_of_something_is_closed() {
        let preface = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
        for sent in [&b""[..], b"G", b"GET / HTTP/1.1\r\nx-slow: ", &preface[..10], preface] {
            let answer = answer_to(sent, Duration::from_millis(50)).await;
            assert!(!answer.starts_with(b"HTTP/1.1 2"), "{}", String::from_utf8_lossy(&answer));
        }
    }

    #[tokio::test]
    async fn who_is_answered_before_he_was_heard_is_told_that_the_connection_ends() {
        // Long enough for a slow machine to hear the head.
        let patient = Duration::from_secs(3);
        let answer = answer_to(b"POST / HTTP/1.1\r\nhost: x\r\ncontent-length: 5\r\n\r\n", patient).await;
        let answer = String::from_utf8(answer).unwrap();
        assert!(answer.starts_with("HTTP/1.1 404"), "{answer}");
        assert!(answer.contains("connection: close"), "{answer}");
        let (mut client, _running) = client_who_sent(b"GET / HTTP/1.1\r\nhost: x\r\n\r\n", patient).await;
        let mut answer = [0; 1024];
        let read = tokio::time::timeout(Duration::from_secs(20), client.read(&mut answer)).await.unwrap();
        let answer = String::from_utf8_lossy(&answer[..read.unwrap()]).into_owned();
        assert!(answer.starts_with("HTTP/1.1 404") && !answer.contains("connection: close"), "{answer}");
    }

    #[tokio::test]
    async fn who_never_agrees_on_tls_is_closed_too() {
        let certificate = crate::tls::tests::Pair::new("first").certificate();
        // A TLS record's head that promises more than ever comes; and plain HTTP, which is no TLS.
        for sent in [&b""[..], &[0x16, 0x03, 0x01, 0x02, 0x00], b"GET / HTTP/1.1\r\nhost: x\r\n\r\n"] {
            let (mut client, _running) =
                client_of(Some(certificate.clone()), sent, Duration::from_millis(50)).await;
            let mut answer = Vec::new();
            let closed = tokio::time::timeout(Duration::from_secs(20), client.read_to_end(&mut answer)).await;
            drop(closed.expect("the connection is closed"));
            assert!(!answer.starts_with(b"HTTP"), "{}", String::from_utf8_lossy(&answer));
        }
    }
}
