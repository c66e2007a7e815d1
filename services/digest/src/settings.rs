//! How the mail server is reached, and in whose name mail is sent.
//!
//! Owns: these types and what may be in them. Must not know: where settings are read from. A password is never shown.

use lettre::message::Mailbox;
use std::fmt;
use std::time::Duration;

/// How the connection is made secret.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encryption {
    /// By STARTTLS (RFC 3207); a server that does not offer it is sent nothing.
    StartTls,
    /// From the first octet on (RFC 8314, section 3.3).
    Implicit,
    /// Not at all: for a server on the same machine.
    None,
}

/// User and password, for a server that asks for them (RFC 4954).
#[derive(Clone, PartialEq, Eq)]
pub struct Login {
    /// Who.
    pub user: String,
    /// The password.
    pub password: String,
}

impl fmt::Debug for Login {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Login(…)")
    }
}

/// In whose name mail is sent: an address, with a name before it if there is one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sender(Mailbox);

/// Why settings cannot be so.
#[derive(Debug, thiserror::Error)]
pub enum SettingsError {
    /// No sender.
    #[error("an address such as \"Harbour office <office@club.example>\"")]
    Sender,
    /// No certificate.
    #[error("certificates in PEM form (BEGIN CERTIFICATE)")]
    Roots,
    /// No key to sign with.
    #[error("a private key in PEM form (BEGIN PRIVATE KEY), RSA or Ed25519")]
    Key,
}

impl Sender {
    /// From a setting's text: "Harbour office <office@club.example>", or the bare address.
    ///
    /// # Errors
    /// [`SettingsError::Sender`].
    pub fn parse(text: &str) -> Result<Self, SettingsError> {
        let plain = !text.chars().any(char::is_control);
        let mailbox = text.trim().parse::<Mailbox>().ok().filter(|_| plain);
        mailbox.map(Self).ok_or(SettingsError::Sender)
    }

    pub(crate) fn mailbox(&self) -> &Mailbox {
        &self.0
    }

    /// The host's name behind the @.
    pub(crate) fn domain(&self) -> &str {
        self.0.email.domain()
    }
}

/// The settings.
#[derive(Clone, Debug)]
pub struct MailSettings {
    /// The server's name; its certificate must be for it.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is made secret.
    pub encryption: Encryption,
    /// User and password, if it asks for them.
    pub login: Option<Login>,
    /// In whose name.
    pub from: Sender,
    /// Connections at once.
    pub connections: usize,
    /// Longest silence at each stage; twice as long for the answer to a whole mail.
    pub timeout: Duration,
    /// Further root certificates, PEM.
    pub roots: Vec<u8>,
    /// With what mails are signed, if they are.
    #[cfg(feature = "dkim")]
    pub signer: Option<crate::dkim::Signer>,
}

impl MailSettings {
    /// A server on this machine that asks for nothing, one connection, a minute's patience.
    pub fn of_this_machine(port: u16, from: Sender) -> Self {
        Self {
            host: "localhost".to_owned(),
            port,
            encryption: Encryption::None,
            login: None,
            from,
            connections: 1,
            timeout: Duration::from_secs(60),
            roots: Vec::new(),
            #[cfg(feature = "dkim")]
            signer: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: RFC 5322, section 3.4 (mailbox); names of RFC 2606.
    #[test]
    fn a_sender_has_one_address_and_perhaps_a_name() {
        for (text, domain) in [
            ("office@club.example", "club.example"),
            ("Harbour office <office@club.example>", "club.example"),
            (
                "\"Vanter, Harbour\" <office@mail.club.example>",
                "mail.club.example",
            ),
        ] {
            assert_eq!(Sender::parse(text).unwrap().domain(), domain, "{text}");
        }
        for wrong in [
            "",
            "office",
            "a@b.example, c@d.example",
            "X <a@b.example>\r\nBcc: c@d.example",
        ] {
            assert!(Sender::parse(wrong).is_err(), "{wrong}");
        }
        let login = Login {
            user: "u".into(),
            password: "secret".into(),
        };
        assert_eq!(format!("{login:?}"), "Login(…)");
    }
}
