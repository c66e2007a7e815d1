//! `[serve]`: where to listen, and how clients are dealt with.

use super::read::{Reader, Show, list_of};
use api::{MetricsFor, PublicAddress, Serving};
use ipnet::IpNet;
use std::net::{IpAddr, SocketAddr};
use std::num::NonZeroU32;
use std::ops::RangeInclusive;

const REQUESTS_A_MINUTE_BOUNDS: RangeInclusive<u64> = 1..=1_000_000_000;

impl Reader<'_> {
    pub(super) fn listen(&mut self) -> Option<SocketAddr> {
        let given = self.take("serve", "listen")?;
        let address = given.value.as_str().and_then(|text| text.trim().parse().ok());
        if address.is_none() {
            let expected = "an address and port, such as \"127.0.0.1:8730\" or \"[::]:8730\"";
            self.wrong(&given, "serve.listen", expected, Show::Found);
        }
        address
    }

    /// How clients are dealt with; the rest is as the service itself has it.
    pub(super) fn serving(&mut self) -> Serving {
        let usual = Serving::default();
        let asked = u64::from(usual.requests_a_minute.get());
        let requests = self.count("serve", "requests_a_minute", REQUESTS_A_MINUTE_BOUNDS, asked);
        let requests = u32::try_from(requests).ok().and_then(NonZeroU32::new);
        Serving {
            requests_a_minute: requests.unwrap_or(usual.requests_a_minute),
            trusted_proxies: self.trusted_proxies(),
            metrics: self.metrics(usual.metrics),
            public_address: self.public_address(),
            ..usual
        }
    }

    fn public_address(&mut self) -> Option<PublicAddress> {
        let given = self.take("serve", "public_address")?;
        let address = given.value.as_str().and_then(PublicAddress::read);
        if address.is_none() {
            let expected = "an http or https address without user, query or fragment, such as \"https://sailing.example\"";
            self.wrong(&given, "serve.public_address", expected, Show::Never);
        }
        address
    }

    fn trusted_proxies(&mut self) -> Vec<IpNet> {
        let Some(given) = self.take("serve", "trusted_proxies") else {
            return Vec::new();
        };
        let net = |said: &str| {
            let address = || said.parse::<IpAddr>().map(IpNet::from);
            said.parse::<IpNet>().ok().or_else(|| address().ok())
        };
        let nets: Option<Vec<IpNet>> =
            list_of(&given).and_then(|all| all.iter().map(|one| net(one)).collect());
        nets.unwrap_or_else(|| {
            let expected = "a list of addresses or networks, such as [\"127.0.0.1\", \"10.0.0.0/8\"]";
            self.wrong(&given, "serve.trusted_proxies", expected, Show::Found);
            Vec::new()
        })
    }

    fn metrics(&mut self, usual: MetricsFor) -> MetricsFor {
        let Some(given) = self.take("serve", "metrics") else {
            return usual;
        };
        match given.value.as_str().map(str::trim) {
            Some("local") => MetricsFor::Local,
            Some("everyone") => MetricsFor::Everyone,
            Some("nobody") => MetricsFor::Nobody,
            _ => {
                let expected = "\"local\", \"everyone\" or \"nobody\"";
                self.wrong(&given, "serve.metrics", expected, Show::Found);
                usual
            }
        }
    }
}
