//! `[mail]`: how the mail server is reached and in whose name mail is sent. Without the section no mail is sent.

use super::mistake::Place;
use super::read::{Reader, Show};
use digests::{Encryption, Login, Sender};
use std::net::IpAddr;
use std::path::PathBuf;
use std::time::Duration;

/// The keys.
pub(super) const KEYS: &[&str] = &[
    "host",
    "port",
    "tls",
    "user",
    "password",
    "from",
    "connections",
    "timeout_s",
    "tls_roots",
    "dkim_domain",
    "dkim_selector",
    "dkim_key",
];

// Ports: RFC 6409 (submission), RFC 8314, section 7.3 (submissions), RFC 5321, section 4.5.4.2 (smtp).
const SUBMISSION: u64 = 587;
const SUBMISSIONS: u64 = 465;
const SMTP: u64 = 25;
// Common practice (no source): gentle to a relay that others use too, and patient with a slow one.
const CONNECTIONS: u64 = 2;
const TIMEOUT_S: u64 = 60;
/// Longest name of a host, domain or selector (RFC 1035, section 2.3.4).
const NAME_AT_MOST: usize = 253;

/// The section as it is set; the files that it names are read by whoever sends.
#[derive(Clone, Debug)]
pub struct MailSet {
    /// The server's name.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is made secret.
    pub encryption: Encryption,
    /// User and password.
    pub login: Option<Login>,
    /// In whose name.
    pub from: Sender,
    /// Connections at once.
    pub connections: usize,
    /// Longest silence.
    pub timeout: Duration,
    /// A file of further root certificates.
    pub roots: Option<PathBuf>,
    /// With what mails are signed.
    #[cfg_attr(
        not(feature = "dkim"),
        expect(dead_code, reason = "without the feature nothing is signed")
    )]
    pub signing: Option<Signing>,
}

/// Domain, selector and the key's file.
#[derive(Clone, Debug)]
#[cfg_attr(
    not(feature = "dkim"),
    expect(dead_code, reason = "without the feature nothing is signed")
)]
pub struct Signing {
    /// The domain that signs.
    pub domain: String,
    /// The selector under which its public key is found.
    pub selector: String,
    /// The file of its private key.
    pub key: PathBuf,
}

impl Reader<'_> {
    /// None without any key of the section. Of one that cannot be so, mistakes are told.
    pub(super) fn mail(&mut self, has_public_address: bool) -> Option<MailSet> {
        let place = self.first_place("mail")?;
        if !has_public_address {
            let words =
                "set serve.public_address too: each mail has links to the service, as others reach it";
            self.missing(&place, "mail", words);
        }
        let host = self.text("mail", "host", Show::Found, host);
        let from = self.text("mail", "from", Show::Never, |text| match Sender::parse(text) {
            Ok(_) => Ok(()),
            Err(_) => Err("an address such as \"Harbour office <office@club.example>\""),
        });
        if host.is_none() || from.is_none() {
            self.missing(
                &place,
                "mail",
                "it needs host, the server's name, and from, the sender's address",
            );
        }
        let encryption = self.encryption();
        let port = self.count("mail", "port", 1..=65_535, usual_port(encryption));
        let login = self.login(&place);
        let near = host.as_deref().is_some_and(is_this_machine);
        if encryption == Encryption::None && login.is_some() && !near {
            self.missing(
                &place,
                "mail.tls",
                "a password is not sent in the clear: take \"starttls\" or \"implicit\"",
            );
        }
        let connections = self.count("mail", "connections", 1..=16, CONNECTIONS);
        let timeout = self.count("mail", "timeout_s", 1..=300, TIMEOUT_S);
        let roots = self
            .text("mail", "tls_roots", Show::Found, |_| Ok(()))
            .map(PathBuf::from);
        let signing = self.signing(&place);
        Some(MailSet {
            host: host?,
            port: u16::try_from(port).ok()?,
            encryption,
            login,
            from: Sender::parse(&from?).ok()?,
            connections: usize::try_from(connections).ok()?,
            timeout: Duration::from_secs(timeout),
            roots,
            signing,
        })
    }

    fn encryption(&mut self) -> Encryption {
        let Some(given) = self.take("mail", "tls") else {
            return Encryption::StartTls;
        };
        match given.value.as_str().map(str::trim) {
            Some("starttls") => Encryption::StartTls,
            Some("implicit") => Encryption::Implicit,
            Some("none") => Encryption::None,
            _ => {
                let expected = "\"starttls\", \"implicit\" or, for a server on the same machine, \"none\"";
                self.wrong(&given, "mail.tls", expected, Show::Found);
                Encryption::StartTls
            }
        }
    }

    fn login(&mut self, place: &Place) -> Option<Login> {
        let user = self.text("mail", "user", Show::Found, |_| Ok(()));
        let password = self.text("mail", "password", Show::Never, |_| Ok(()));
        match (user, password) {
            (Some(user), Some(password)) => Some(Login { user, password }),
            (None, None) => None,
            _ => {
                self.missing(
                    place,
                    "mail",
                    "user and password belong together: set both or neither",
                );
                None
            }
        }
    }

    fn signing(&mut self, place: &Place) -> Option<Signing> {
        let domain = self.text("mail", "dkim_domain", Show::Found, name);
        let selector = self.text("mail", "dkim_selector", Show::Found, name);
        let key = self.text("mail", "dkim_key", Show::Found, |_| Ok(()));
        let given = domain.is_some() || selector.is_some() || key.is_some();
        if given && !cfg!(feature = "dkim") {
            self.missing(
                place,
                "mail.dkim_key",
                "this program was built without the feature dkim: build it with it",
            );
            return None;
        }
        match (domain, selector, key) {
            (Some(domain), Some(selector), Some(key)) => Some(Signing {
                domain,
                selector,
                key: PathBuf::from(key),
            }),
            _ => {
                if given {
                    let words = "dkim_domain, dkim_selector and dkim_key belong together: set all or none";
                    self.missing(place, "mail", words);
                }
                None
            }
        }
    }
}

fn usual_port(encryption: Encryption) -> u64 {
    match encryption {
        Encryption::StartTls => SUBMISSION,
        Encryption::Implicit => SUBMISSIONS,
        Encryption::None => SMTP,
    }
}

fn is_this_machine(host: &str) -> bool {
    host == "localhost" || host.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

fn name(text: &str) -> Result<(), &'static str> {
    let is_part = |letter: char| letter.is_ascii_alphanumeric() || "-._".contains(letter);
    match text.len() <= NAME_AT_MOST && text.chars().all(is_part) {
        true => Ok(()),
        false => Err("a name of letters, digits, hyphens and dots"),
    }
}

fn host(text: &str) -> Result<(), &'static str> {
    match text.parse::<IpAddr>().is_ok() || name(text).is_ok() {
        true => Ok(()),
        false => Err("the server's name, such as \"smtp.club.example\", without a port"),
    }
}
