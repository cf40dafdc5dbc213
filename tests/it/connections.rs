//! Connections that say nothing, or half of something, shut out nobody.

use std::io::{ErrorKind, Read, Write};
use std::net::TcpStream;

use crate::knock::tell;
use crate::server::Server;

/// Whether the other side has closed it.
fn is_closed(connection: &mut TcpStream) -> bool {
    connection.set_nonblocking(true).unwrap();
    match connection.read(&mut [0]) {
        Ok(read) => read == 0,
        Err(error) => error.kind() != ErrorKind::WouldBlock,
    }
}

/// What they say before they fall silent.
const SAID: [&[u8]; 3] = [b"", b"PRI * HTTP/2.0\r\n", b"GET /v1/me HTTP/1.1\r\nhost: x\r\n"];

async fn silent_ones_shut_out_nobody(setting: (&str, &str), room: usize) {
    const SILENT: usize = 300;
    const OTHERS: usize = 20;
    let server = Server::empty(&[setting]).await;
    let token = server.make_token("administrator");
    let mut silent = Vec::new();
    for n in 0..SILENT {
        let mut connection = TcpStream::connect(&server.address).unwrap();
        // It may be closed already, to make room for the next.
        let _ = connection.write_all(SAID[n % SAID.len()]);
        silent.push(connection);
    }
    for _ in 0..OTHERS {
        // A connection of its own for each.
        let client = reqwest::Client::new();
        let answer = client.get(server.url("/v1/me")).bearer_auth(&token).send().await.unwrap();
        assert_eq!(answer.status(), 200);
    }
    let open = silent.iter_mut().map(is_closed).filter(|closed| !closed).count();
    assert!(open <= room, "{open} silent connections are open, and there is room for {room}");
    let came = format!("{OTHERS} of {OTHERS} others served; {open} of the silent ones still open");
    tell(&format!("silent and half-said connections, {} {}", setting.0, setting.1), SILENT, &came);
}

#[tokio::test]
async fn three_hundred_silent_connections_shut_out_nobody() {
    silent_ones_shut_out_nobody(("OVENWRIGHT_CONNECTIONS", "40"), 40).await;
}

#[tokio::test]
async fn nor_do_they_when_there_are_few_descriptors() {
    silent_ones_shut_out_nobody(("DESCRIPTORS", "256"), 256).await;
}
