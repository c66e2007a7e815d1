//! What can go wrong with handing a mail over, and what follows: the mail waits, it is stopped, or the server is left alone for a while.
//!
//! Owns: that distinction, by stage and reply (RFC 5321, RFC 3463). Must not know: sockets, the store.

use lettre::transport::smtp::response::Severity;
use lettre::transport::smtp::{Error, response::Code};
use std::error::Error as _;

/// At which stage of the conversation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stage {
    /// Reaching the server, its greeting, EHLO.
    Greeting,
    /// Making the connection secret.
    Tls,
    /// Showing user and password.
    Login,
    /// Naming the sender.
    Sender,
    /// Naming the recipient.
    Recipient,
    /// Asking to hand the mail over.
    Data,
    /// Waiting for the answer to the whole of it.
    Taken,
}

impl Stage {
    fn words(self) -> &'static str {
        match self {
            Self::Greeting => "when it was greeted",
            Self::Tls => "when TLS was to begin",
            Self::Login => "at the login",
            Self::Sender => "to the sender's address ([mail] from)",
            Self::Recipient => "to the subscriber's address",
            Self::Data => "to the mail",
            Self::Taken => "to the whole mail",
        }
    }
}

/// What follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Consequence {
    /// The server is in trouble, or we with it: all mail waits.
    AllWait,
    /// This mail waits.
    Wait,
    /// This mail is stopped; whether it is its address that is refused.
    Stop { address: bool },
}

/// A fault: in a word as it is counted, in words without an address, and what follows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Fault {
    pub word: &'static str,
    pub words: String,
    pub consequence: Consequence,
}

impl Fault {
    fn of(word: &'static str, words: String, consequence: Consequence) -> Self {
        Self {
            word,
            words,
            consequence,
        }
    }

    /// The server was silent for too long.
    pub(crate) fn slow(stage: Stage, seconds: u64) -> Self {
        let words = format!("the mail server was silent for {seconds} s {}", stage.words());
        Self::of("slow", words, by_stage(stage))
    }

    /// The server could not be reached.
    pub(crate) fn unreachable(cause: &dyn std::error::Error) -> Self {
        let words = format!("the mail server could not be reached: {}", innermost(cause));
        Self::of("unreachable", words, Consequence::AllWait)
    }

    /// The mail could not even be made.
    pub(crate) fn unmade() -> Self {
        let words = "the mail could not be made; the operator finds the cause in the log".to_owned();
        Self::of("unmade", words, Consequence::Wait)
    }

    /// What a refusal, a lost connection or TLS means at a stage.
    pub(crate) fn at(stage: Stage, error: &Error) -> Self {
        match error.status() {
            Some(code) => replied(stage, code, enhanced(error)),
            None if error.is_tls() || (stage == Stage::Tls && !error.is_client()) => Self::of(
                "tls",
                format!("TLS with the mail server failed: {}", innermost(error)),
                Consequence::AllWait,
            ),
            None if stage == Stage::Tls => Self::of(
                "tls",
                "the mail server offers no STARTTLS, and without it nothing is sent ([mail] tls)".to_owned(),
                Consequence::AllWait,
            ),
            None if stage == Stage::Login && error.is_client() => Self::of(
                "login",
                "the mail server offers no login that is known here (PLAIN, LOGIN)".to_owned(),
                Consequence::AllWait,
            ),
            None if error.is_response() => Self::of(
                "lost",
                format!(
                    "the mail server broke off, or said what is no reply of SMTP, {}",
                    stage.words()
                ),
                by_stage(stage),
            ),
            None if stage == Stage::Greeting => Self::unreachable(error),
            None => Self::of(
                "lost",
                format!(
                    "the connection to the mail server was lost before its answer {}",
                    stage.words()
                ),
                by_stage(stage),
            ),
        }
    }
}

/// Without a reply: from the recipient on it may lie in the mail.
fn by_stage(stage: Stage) -> Consequence {
    match stage {
        Stage::Recipient | Stage::Data | Stage::Taken => Consequence::Wait,
        Stage::Greeting | Stage::Tls | Stage::Login | Stage::Sender => Consequence::AllWait,
    }
}

/// What a reply means. 421 closes the channel, 530 to 538 are of the login (RFC 5321, section 3.8; RFC 4954, section 6).
fn replied(stage: Stage, code: Code, enhanced: Option<String>) -> Fault {
    let number: u16 = code.into();
    let shown = enhanced
        .as_ref()
        .map_or(String::new(), |enhanced| format!(" {enhanced}"));
    let words = format!("the mail server answered {number}{shown} {}", stage.words());
    let transient = code.severity == Severity::TransientNegativeCompletion;
    let (word, consequence) = match (number, stage) {
        (421, _) => ("busy", Consequence::AllWait),
        (530 | 534 | 535 | 538, _) | (_, Stage::Login) => ("login", Consequence::AllWait),
        (_, Stage::Tls) => ("tls", Consequence::AllWait),
        (_, Stage::Greeting) => ("busy", Consequence::AllWait),
        (_, Stage::Sender) => ("sender", Consequence::AllWait),
        _ if transient => ("deferred", Consequence::Wait),
        _ => (
            "refused",
            Consequence::Stop {
                address: of_address(stage, enhanced.as_deref()),
            },
        ),
    };
    Fault::of(word, words, consequence)
}

/// Whether a refusal for good is of the address and not of what is sent or by whom: X.1 and X.2 of RFC 3463; without such a code, by the stage.
fn of_address(stage: Stage, enhanced: Option<&str>) -> bool {
    match enhanced.and_then(|code| code.split('.').nth(1)) {
        Some("1" | "2") => true,
        Some(_) => false,
        None => stage == Stage::Recipient,
    }
}

/// The status code of RFC 3463 that a reply begins with, if it does: "5.1.1".
fn enhanced(error: &Error) -> Option<String> {
    let said = error.source()?.to_string();
    let first = said.split([' ', '\r', '\n']).next()?;
    let parts: Vec<&str> = first.split('.').collect();
    let is_number =
        |part: &&str| (1..=3).contains(&part.len()) && part.bytes().all(|octet| octet.is_ascii_digit());
    let fits = parts.len() == 3 && matches!(parts[0], "4" | "5") && parts.iter().all(is_number);
    fits.then(|| first.to_owned())
}

/// The last cause, which tells most: "Connection refused (os error 111)". It comes from the system or from the certificate's
/// check, not from a server's own words.
fn innermost(error: &dyn std::error::Error) -> String {
    let mut cause = error;
    while let Some(next) = cause.source() {
        cause = next;
    }
    cause.to_string()
}
