//! What can keep the whole of the mail from being seen to. Faults of one mail are `fault`'s.

use crate::compose::NotComposed;
use store::StoreError;

/// Why a round ended early.
#[derive(Debug, thiserror::Error)]
pub enum DigestError {
    /// The store did not answer.
    #[error("the mail could not be seen to; it is tried again")]
    Store(#[from] StoreError),
    /// What is kept of a mailing or a change cannot be read.
    #[error(
        "what is kept of {what} cannot be read: it was written by a newer version of this program, or is damaged"
    )]
    Unreadable {
        /// Which.
        what: String,
        /// Why.
        #[source]
        source: serde_json::Error,
    },
    /// The system gives no random octets for the links in mails.
    #[error("the system gives no random octets; without them no link in a mail would be safe")]
    Randomness(#[source] getrandom::Error),
    /// A mail that nobody waits for could not be made.
    #[error("a mail could not be made")]
    Unmade(#[source] NotComposed),
    /// The sample's address is none.
    #[error("the sample has no address")]
    NoAddress(#[source] club::NoAddress),
    /// The computation of a mail was stopped.
    #[error("a mail was not made: the program is stopping")]
    Stopped(#[from] tokio::task::JoinError),
}
