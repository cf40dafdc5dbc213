//! Accepts connections, with a time limit for a request's head, and stops in bounded time.

use std::net::SocketAddr;
use std::time::Duration;

use axum::Router;
use axum::extract::ConnectInfo;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::signal::unix::{SignalKind, signal};
use tower::ServiceExt;

use crate::wiring::Failure;

const HEADER_READ_TIMEOUT: Duration = Duration::from_secs(10);
/// The interface itself refuses far fewer, with a problem; only beyond this hyper refuses without one.
const MOST_HEADERS: usize = 1000;

/// Serves until told to stop, then calls `on_stop` and lets open requests end within `patience`.
pub async fn serve(
    address: SocketAddr,
    router: Router,
    patience: Duration,
    on_stop: impl FnOnce(),
) -> Result<(), Failure> {
    let listener = TcpListener::bind(address).await.map_err(|source| Failure::Listen { address, source })?;
    let address = listener.local_addr().map_err(|source| Failure::Listen { address, source })?;
    tracing::info!(%address, "listening");
    let graceful = GracefulShutdown::new();
    let mut stop = Box::pin(stop_signal()?);
    loop {
        tokio::select! {
            accepted = listener.accept() => match accepted {
                Ok((stream, peer)) => attend(stream, peer, &router, HEADER_READ_TIMEOUT, &graceful),
                Err(error) => {
                    // Out of file descriptors, as a rule: wait for some to be closed.
                    tracing::warn!(%error, "a connection could not be accepted");
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
    router: &Router,
    header_read_timeout: Duration,
    graceful: &GracefulShutdown,
) {
    if let Err(error) = stream.set_nodelay(true) {
        tracing::debug!(%error, "TCP_NODELAY could not be set");
    }
    let service =
        router.clone().map_request(move |mut request: axum::http::Request<hyper::body::Incoming>| {
            request.extensions_mut().insert(ConnectInfo(peer));
            request.map(axum::body::Body::new)
        });
    let mut builder = Builder::new(TokioExecutor::new());
    builder
        .http1()
        .timer(TokioTimer::new())
        .header_read_timeout(header_read_timeout)
        .max_headers(MOST_HEADERS);
    builder.http2().timer(TokioTimer::new()).keep_alive_interval(Duration::from_secs(30));
    let connection =
        builder.serve_connection(TokioIo::new(stream), TowerToHyperService::new(service)).into_owned();
    let connection = graceful.watch(connection);
    tokio::spawn(async move {
        if let Err(error) = connection.await {
            tracing::debug!(%error, "a connection ended badly");
        }
    });
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

    #[tokio::test]
    async fn a_head_that_never_ends_loses_its_connection() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let mut client = TcpStream::connect(listener.local_addr().unwrap()).await.unwrap();
        let (stream, peer) = listener.accept().await.unwrap();
        let graceful = GracefulShutdown::new();
        attend(stream, peer, &Router::new(), Duration::from_millis(50), &graceful);
        client.write_all(b"GET / HTTP/1.1\r\nx-slow: ").await.unwrap();
        let mut answer = Vec::new();
        let closed = tokio::time::timeout(Duration::from_secs(20), client.read_to_end(&mut answer)).await;
        drop(closed.expect("the connection is closed, by its end or by a reset"));
        assert!(!answer.starts_with(b"HTTP/1.1 2"), "{}", String::from_utf8_lossy(&answer));
    }
}
