//! How the service deals with its clients: bounds of time, size and number. Plain settings with their defaults.
//!
//! Owns: what may be set, and what it is set to otherwise. Must not know: where settings are read from, how they are kept to.

use crate::PublicAddress;
use ipnet::IpNet;
use std::net::IpAddr;
use std::num::NonZeroU32;
use std::time::Duration;

/// Requests of one client a minute, and how many may come at once.
// Common practice (no source): a page with all it loads takes 3 requests, a widget one a minute.
const A_MINUTE: NonZeroU32 = NonZeroU32::MIN.saturating_add(299);

/// Addresses asked for by one client an hour (no source: the project's own rule): a class behind one router can subscribe at once.
const ADDRESSES_AN_HOUR: NonZeroU32 = NonZeroU32::MIN.saturating_add(9);

/// The bounds.
#[derive(Clone, Debug)]
pub struct Serving {
    /// Longest wait for a whole request head, the wait between two requests of a connection included.
    pub head_within: Duration,
    /// Longest time for reading a request's body and making its answer.
    pub answer_within: Duration,
    /// Longest time for which a client may take nothing of an answer.
    pub taken_within: Duration,
    /// Longest wait for answers at hand once the service is told to stop.
    pub finish_within: Duration,
    /// Connections at once; more wait to be accepted.
    pub connections: usize,
    /// Largest body of a request, octets.
    pub largest_body: usize,
    /// Requests of one client a minute, and how many of them may come at once.
    pub requests_a_minute: NonZeroU32,
    /// Mail is sent: clubs whose file says when take subscriptions.
    pub sends_mail: bool,
    /// Addresses that one client may have asked by mail an hour, and how many of them at once.
    pub addresses_an_hour: NonZeroU32,
    /// Proxies whose word on the client's address is taken.
    pub trusted_proxies: Vec<IpNet>,
    /// How long a finished answer may be given again before the store is asked anew.
    pub answers_kept_for: Duration,
    /// Who may read `/metrics`.
    pub metrics: MetricsFor,
    /// Where other programs reach the service. Without it, links that are read elsewhere are left out.
    pub public_address: Option<PublicAddress>,
}

/// Who may read `/metrics`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MetricsFor {
    /// Programs on the same machine that ask directly: a proxy's words for others do not count as local.
    Local,
    /// Everyone.
    Everyone,
    /// Nobody.
    Nobody,
}

impl Default for Serving {
    fn default() -> Self {
        Self {
            head_within: Duration::from_secs(15),
            answer_within: Duration::from_secs(30),
            taken_within: Duration::from_secs(30),
            finish_within: Duration::from_secs(20),
            connections: 4096,
            largest_body: 1 << 20,
            requests_a_minute: A_MINUTE,
            sends_mail: false,
            addresses_an_hour: ADDRESSES_AN_HOUR,
            trusted_proxies: Vec::new(),
            answers_kept_for: Duration::from_secs(1),
            metrics: MetricsFor::Local,
            public_address: None,
        }
    }
}

impl Serving {
    /// Whether an address is a trusted proxy's.
    pub(crate) fn trusts(&self, address: IpAddr) -> bool {
        self.trusted_proxies.iter().any(|net| net.contains(&address))
    }
}
