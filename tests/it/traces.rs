//! Spans reach a collector that the standard variables name.

use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpListener;

use crate::server::Server;

// The example of W3C Trace Context, section 3.2.2.
const PARENT: &str = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01";
const TRACE_ID: u128 = 0x4bf9_2f35_77b3_4da6_a3ce_929d_0e0e_4736;
const PARENT_ID: u64 = 0x00f0_67aa_0ba9_02b7;

#[tokio::test]
async fn a_request_is_a_span_in_the_trace_of_its_sender() {
    let collector = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let endpoint = format!("http://{}", collector.local_addr().unwrap());
    let settings = [("OTEL_EXPORTER_OTLP_ENDPOINT", endpoint.as_str()), ("OTEL_BSP_SCHEDULE_DELAY", "50")];
    let server = Server::empty(&settings).await;
    let request = server.client.get(server.url("/livez")).header("traceparent", PARENT);
    assert_eq!(request.send().await.unwrap().status(), 200);

    let (head, body) = tokio::time::timeout(Duration::from_secs(20), received(&collector)).await.unwrap();
    assert!(head.starts_with("POST /v1/traces HTTP/1.1\r\n"), "{head}");
    assert!(head.to_ascii_lowercase().contains("content-type: application/x-protobuf"), "{head}");
    let holds = |part: &[u8]| body.windows(part.len()).any(|window| window == part);
    assert!(holds(&TRACE_ID.to_be_bytes()), "the span belongs to the sender's trace");
    assert!(holds(&PARENT_ID.to_be_bytes()), "the span has the sender's span as its parent");
    for text in ["GET /livez", "http.route", "http.response.status_code", "ovenwright"] {
        assert!(holds(text.as_bytes()), "{text} is missing");
    }
}

/// The head and the body of the first request, which is answered as a collector does.
async fn received(collector: &TcpListener) -> (String, Vec<u8>) {
    let (mut stream, _) = collector.accept().await.unwrap();
    let mut bytes = Vec::new();
    loop {
        assert_ne!(stream.read_buf(&mut bytes).await.unwrap(), 0, "the sender broke off");
        let Some(end) = bytes.windows(4).position(|window| window == b"\r\n\r\n") else { continue };
        let head = String::from_utf8(bytes[..end + 2].to_vec()).unwrap();
        let length = head.lines().find_map(|line| {
            let (name, value) = line.split_once(": ")?;
            name.eq_ignore_ascii_case("content-length").then(|| value.parse::<usize>().unwrap())
        });
        let body = &bytes[end + 4..];
        if body.len() >= length.unwrap() {
            let body = body.to_vec();
            stream.write_all(b"HTTP/1.1 200 OK\r\ncontent-length: 0\r\n\r\n").await.unwrap();
            return (head, body);
        }
    }
}
