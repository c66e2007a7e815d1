//! Addresses in the settings: the store's, which may hold a password, and whether a server is this machine.
//!
//! Must not know: what is fetched or kept.

use std::fmt;
use std::net::IpAddr;

/// The address of a store. Neither its `Debug` form nor its `Display` form shows a password.
#[derive(Clone, PartialEq, Eq)]
pub struct StoreAddress(String);

impl StoreAddress {
    /// From a path or an address.
    pub fn new(address: impl Into<String>) -> Self {
        Self(address.into())
    }

    /// With its password: for opening the store only.
    pub fn exposed(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for StoreAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.split_once("://") {
            // The last @ ends user and password; settings after ? may hold one too.
            Some((scheme, rest)) if scheme != "sqlite" => {
                let host = rest.rsplit_once('@').map_or(rest, |(_, host)| host);
                write!(f, "{scheme}://{}", host.split('?').next().unwrap_or_default())
            }
            _ => f.write_str(&self.0),
        }
    }
}

impl fmt::Debug for StoreAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "StoreAddress({self})")
    }
}

/// True for a server that is not this machine: `https://forecasts.example/path`, but not `http://127.0.0.1:8080`.
pub fn is_elsewhere(address: &str) -> bool {
    let Some(rest) = ["http://", "https://"]
        .into_iter()
        .find_map(|scheme| address.strip_prefix(scheme))
    else {
        return false;
    };
    let authority = rest.split(['/', '?', '#']).next().unwrap_or_default();
    let host = authority.rsplit('@').next().unwrap_or_default();
    let host = match host.strip_prefix('[') {
        Some(rest) => rest.split(']').next().unwrap_or_default(),
        None => host.split(':').next().unwrap_or_default(),
    };
    let here = host == "localhost" || host.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback());
    !here
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_form_of_an_address_shows_its_password() {
        let address = StoreAddress::new("postgres://helm:s3cr@t@db.example:5432/cringle?password=s3cr");
        for shown in [format!("{address}"), format!("{address:?}")] {
            assert!(
                shown.contains("db.example:5432/cringle") && !shown.contains("s3cr"),
                "{shown}"
            );
        }
        assert_eq!(
            StoreAddress::new("data/cringle.db").to_string(),
            "data/cringle.db"
        );
    }

    // Source: RFC 1122 section 3.2.1.3 (127/8) and RFC 4291 section 2.5.3 (::1).
    #[test]
    fn only_loopback_addresses_are_this_machine() {
        for here in [
            "http://127.0.0.1:8080/x",
            "http://127.9.9.9",
            "https://[::1]:1/",
            "http://localhost/",
            "file:///srv/feeds",
        ] {
            assert!(!is_elsewhere(here), "{here}");
        }
        for there in [
            "https://forecasts.example/gfs",
            "http://10.0.0.1/",
            "http://127.0.0.1@forecasts.example/",
            "http://localhost.example/",
        ] {
            assert!(is_elsewhere(there), "{there}");
        }
    }
}
