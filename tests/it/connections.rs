//! Connections that say nothing shut out nobody.

use std::io::{ErrorKind, Read};
use std::net::TcpStream;

use crate::server::Server;

/// Whether the other side has closed it.
fn is_closed(connection: &mut TcpStream) -> bool {
    connection.set_nonblocking(true).unwrap();
    match connection.read(&mut [0]) {
        Ok(read) => read == 0,
        Err(error) => error.kind() != ErrorKind::WouldBlock,
    }
}

#[tokio::test]
async fn three_hundred_silent_connections_shut_out_nobody() {
    const ROOM: usize = 40;
    let server = Server::empty(&[("OVENWRIGHT_CONNECTIONS", &ROOM.to_string())]).await;
    let token = server.make_token("administrator");
    let mut silent: Vec<_> = (0..300).map(|_| TcpStream::connect(&server.address).unwrap()).collect();
    for _ in 0..20 {
        // A connection of its own for each.
        let client = reqwest::Client::new();
        let answer = client.get(server.url("/v1/me")).bearer_auth(&token).send().await.unwrap();
        assert_eq!(answer.status(), 200);
    }
    let open = silent.iter_mut().map(is_closed).filter(|closed| !closed).count();
    assert!(open <= ROOM, "{open} silent connections are open, and there is room for {ROOM}");
}
