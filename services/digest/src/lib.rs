//! Who is due a mail, what becomes of it, and SMTP.
//!
//! Owns: when a digest is due, whether a change is told, what a mail is made from, handing it over, when it is tried again. Is given: the
//! store, a clock, the settings of a mail server. Must not know: GRIB, source addresses, axum, how an advisory is made, how a mail looks.
//! No address stands in an error or a log, nor anything a server says in its own words, which may repeat one.

mod boards;
mod bounded;
mod changes;
mod compose;
#[cfg(feature = "dkim")]
pub mod dkim;
mod due;
mod error;
mod fault;
mod making;
mod message;
mod office;
mod rest;
mod server;
mod settings;

pub use compose::NotComposed;
pub use due::{digest_due, next_digest};
pub use error::DigestError;
pub use making::{Made, make_mailings};
pub use office::{Office, PostEvent, PostWatcher, Posted, SAMPLE, Unsent, Unwatched};
pub use rest::pause_after;
pub use server::MailServer;
pub use settings::{Encryption, Login, MailSettings, Sender, SettingsError};
