//! Whose request it is, by address: the peer's, or what a trusted proxy says of it.
//!
//! Owns: that question. Must not know: what follows from the answer. An address is never logged.

use crate::serving::Serving;
use axum::http::{Extensions, HeaderMap};
use std::net::{IpAddr, Ipv6Addr};

/// The other end of the connection, as the socket says it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Peer(pub IpAddr);

/// What a proxy says of the client it speaks for.
const FORWARDED_FOR: &str = "x-forwarded-for";
/// Any of these says that somebody else speaks through the peer.
const FORWARDING: [&str; 3] = [FORWARDED_FOR, "forwarded", "x-real-ip"];

/// The client's address: the last one named by the trusted proxies that is not itself one of them. A stranger's header
/// says nothing.
pub(crate) fn address(extensions: &Extensions, headers: &HeaderMap, serving: &Serving) -> Option<IpAddr> {
    let Peer(peer) = *extensions.get::<Peer>()?;
    let peer = peer.to_canonical();
    if !serving.trusts(peer) {
        return Some(peer);
    }
    let said: Vec<&str> = headers
        .get_all(FORWARDED_FOR)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim)
        .collect();
    let mut client = peer;
    for one in said.into_iter().rev() {
        // What cannot be read was not written by a proxy of ours: the last one that could stands.
        let Ok(address) = one.parse::<IpAddr>() else { break };
        client = address.to_canonical();
        if !serving.trusts(client) {
            break;
        }
    }
    Some(client)
}

/// Whether a program on this machine asks, and for itself.
pub(crate) fn is_local(extensions: &Extensions, headers: &HeaderMap) -> bool {
    let forwarded = FORWARDING.iter().any(|name| headers.contains_key(*name));
    !forwarded
        && extensions
            .get::<Peer>()
            .is_some_and(|Peer(peer)| peer.to_canonical().is_loopback())
}

/// What one client is counted by: an IPv4 address, or the 64 bits of an IPv6 network, of which one client has all.
pub(crate) fn counted_as(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V4(_) => address,
        IpAddr::V6(six) => {
            let network = six.to_bits() >> 64 << 64;
            Ipv6Addr::from_bits(network).into()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    fn found(peer: &str, said: &[&'static str]) -> IpAddr {
        let serving = Serving {
            trusted_proxies: vec!["10.0.0.0/8".parse().unwrap(), "::1/128".parse().unwrap()],
            ..Serving::default()
        };
        let mut extensions = Extensions::new();
        extensions.insert(Peer(peer.parse().unwrap()));
        let mut headers = HeaderMap::new();
        for one in said {
            headers.append(FORWARDED_FOR, HeaderValue::from_static(one));
        }
        address(&extensions, &headers, &serving).unwrap()
    }

    // Addresses of RFC 5737 and RFC 3849, kept for documentation. The header has no standard; its last entry is by common
    // practice (no source) what the nearest proxy saw.
    #[test]
    fn only_a_trusted_proxy_says_for_whom_it_speaks() {
        for (peer, said, expected) in [
            ("198.51.100.7", vec!["203.0.113.9"], "198.51.100.7"),
            ("10.1.2.3", vec!["203.0.113.9"], "203.0.113.9"),
            ("10.1.2.3", vec!["192.0.2.66, 203.0.113.9"], "203.0.113.9"),
            (
                "10.1.2.3",
                vec!["192.0.2.66", "203.0.113.9, 10.9.9.9"],
                "203.0.113.9",
            ),
            ("10.1.2.3", vec!["unknown, 10.9.9.9"], "10.9.9.9"),
            ("10.1.2.3", vec![], "10.1.2.3"),
            ("::ffff:10.1.2.3", vec!["2001:db8::1"], "2001:db8::1"),
        ] {
            assert_eq!(
                found(peer, &said),
                expected.parse::<IpAddr>().unwrap(),
                "{peer} {said:?}"
            );
        }
    }

    // Source: RFC 6177, a site is given at least one /64: all of its addresses are one client.
    #[test]
    fn an_ipv6_client_is_its_network() {
        let of = |said: &str| counted_as(said.parse().unwrap());
        assert_eq!(of("2001:db8:1:2:3:4:5:6"), of("2001:db8:1:2::9"));
        assert_ne!(of("2001:db8:1:2::9"), of("2001:db8:1:3::9"));
        assert_ne!(of("192.0.2.1"), of("192.0.2.2"));
    }
}
