//! Where a request comes from: the peer of its connection, or what trusted proxies say that theirs was.

use std::net::{IpAddr, SocketAddr};
use std::str::FromStr;
use std::sync::Arc;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, header};
use axum::middleware::Next;
use axum::response::Response;
use ipnet::IpNet;

/// A network in CIDR notation, such as `10.0.0.0/8` or `fd00::/8`; an address alone is a network of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Network(IpNet);

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0} is no network; write it as 10.0.0.0/8 or fd00::/8")]
pub struct NotANetwork(String);

impl FromStr for Network {
    type Err = NotANetwork;

    fn from_str(text: &str) -> Result<Self, NotANetwork> {
        let of_one = |_| text.parse::<IpAddr>().map(IpNet::from);
        text.parse().or_else(of_one).map(Self).map_err(|_| NotANetwork(text.to_owned()))
    }
}

impl Network {
    pub fn contains(&self, address: IpAddr) -> bool {
        self.0.contains(&address.to_canonical())
    }
}

/// The address that stands for the client in logs and in limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClientAddress(pub IpAddr);

impl ClientAddress {
    /// Who may be told apart: a household of IPv6 is a /64.
    pub fn household(self) -> IpAddr {
        match self.0 {
            IpAddr::V4(_) => self.0,
            IpAddr::V6(address) => IpAddr::V6((address.to_bits() >> 64 << 64).into()),
        }
    }
}

/// Finds the client's address and puts it beside the request.
pub async fn find(State(trusted): State<Arc<[Network]>>, mut request: Request, next: Next) -> Response {
    let peer = request.extensions().get::<ConnectInfo<SocketAddr>>().map(|peer| peer.0.ip().to_canonical());
    if let Some(peer) = peer {
        let address = client(peer, request.headers(), &trusted);
        request.extensions_mut().insert(ClientAddress(address));
    }
    next.run(request).await
}

/// From the nearest hop to the farthest: the first that is no trusted proxy. What an untrusted hop says of others
/// counts for nothing, and neither does a header that cannot be read.
fn client(peer: IpAddr, headers: &HeaderMap, trusted: &[Network]) -> IpAddr {
    let is_trusted = |address: IpAddr| trusted.iter().any(|network| network.contains(address));
    let mut nearest = peer;
    for hop in hops(headers).into_iter().rev() {
        if !is_trusted(nearest) {
            break;
        }
        let Some(address) = hop else { break };
        nearest = address.to_canonical();
    }
    nearest
}

/// What `Forwarded` (RFC 7239) says, or in its absence `X-Forwarded-For`: the farthest hop first.
fn hops(headers: &HeaderMap) -> Vec<Option<IpAddr>> {
    let listed = |name: header::HeaderName| {
        let values = headers.get_all(name).iter().map(|value| value.to_str().unwrap_or_default().to_owned());
        values.collect::<Vec<_>>().join(",")
    };
    if headers.contains_key(header::FORWARDED) {
        return listed(header::FORWARDED).split(',').map(forwarded_for).collect();
    }
    let text = listed(header::HeaderName::from_static("x-forwarded-for"));
    if text.is_empty() { Vec::new() } else { text.split(',').map(node).collect() }
}

fn forwarded_for(element: &str) -> Option<IpAddr> {
    element.split(';').find_map(|pair| {
        let (name, value) = pair.split_once('=')?;
        name.trim().eq_ignore_ascii_case("for").then(|| node(value))?
    })
}

/// `192.0.2.43`, `192.0.2.43:47011`, `"[2001:db8::1]:4711"`; nothing for `unknown` and names made up to hide.
fn node(text: &str) -> Option<IpAddr> {
    let text = text.trim().trim_matches('"');
    text.parse()
        .ok()
        .or_else(|| text.parse::<SocketAddr>().ok().map(|address| address.ip()))
        .or_else(|| text.strip_prefix('[')?.strip_suffix(']')?.parse().ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(peer: &str, headers: &[(&'static str, &'static str)]) -> String {
        let trusted = ["10.0.0.0/8".parse().unwrap(), "fd00::/8".parse().unwrap()];
        let headers = headers.iter().map(|(name, value)| (name.parse().unwrap(), value.parse().unwrap()));
        client(peer.parse().unwrap(), &headers.collect::<HeaderMap>(), &trusted).to_string()
    }

    #[test]
    fn only_trusted_proxies_say_who_the_client_is() {
        let said = [("x-forwarded-for", "203.0.113.7")];
        assert_eq!(found("198.51.100.1", &said), "198.51.100.1", "a stranger says what he likes");
        assert_eq!(found("10.0.0.1", &said), "203.0.113.7");
        assert_eq!(found("::ffff:10.0.0.1", &said), "203.0.113.7");
        let forged = [("x-forwarded-for", "192.0.2.66, 203.0.113.7, 10.1.1.1")];
        assert_eq!(
            found("10.0.0.1", &forged),
            "203.0.113.7",
            "what a client forged stands beyond its own address"
        );
        assert_eq!(found("10.0.0.1", &[]), "10.0.0.1");
        assert_eq!(found("10.0.0.1", &[("x-forwarded-for", "nonsense")]), "10.0.0.1");
    }

    #[test]
    fn the_standard_header_is_read_as_its_standard_shows() {
        // RFC 7239, sections 4 and 6.
        let one = [("forwarded", "for=\"[2001:db8:cafe::17]:4711\"")];
        assert_eq!(found("10.0.0.1", &one), "2001:db8:cafe::17");
        let two = [("forwarded", "for=192.0.2.43, for=198.51.100.17;by=203.0.113.60;proto=http")];
        assert_eq!(found("10.0.0.1", &two), "198.51.100.17");
        let hidden = [("forwarded", "for=192.0.2.43, for=_hidden"), ("x-forwarded-for", "192.0.2.43")];
        assert_eq!(found("10.0.0.1", &hidden), "10.0.0.1");
    }

    #[test]
    fn networks_are_read_and_refused() {
        for (network, inside, outside) in [
            ("192.0.2.0/24", "192.0.2.200", "192.0.3.1"),
            ("0.0.0.0/0", "8.8.8.8", "2001:db8::1"),
            ("fd00::/8", "fd12::1", "fe80::1"),
            ("127.0.0.1", "127.0.0.1", "127.0.0.2"),
        ] {
            let network: Network = network.parse().unwrap();
            assert!(network.contains(inside.parse().unwrap()), "{network:?}");
            assert!(!network.contains(outside.parse().unwrap()), "{network:?}");
        }
        for odd in ["10.0.0.0/33", "10.0.0.0/", "kitchen", "10.0.0/8", "fd00::/129"] {
            assert!(odd.parse::<Network>().is_err(), "{odd}");
        }
    }

    #[test]
    fn a_household_is_one() {
        let of = |text: &str| ClientAddress(text.parse().unwrap()).household().to_string();
        assert_eq!(of("2001:db8:1:2:3:4:5:6"), "2001:db8:1:2::");
        assert_eq!(of("192.0.2.1"), "192.0.2.1");
    }
}
